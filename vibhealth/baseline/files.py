"""A baseline as files that a person and pandas can read, and back, number for number.

``baseline.toml`` holds the facts, CSV tables the numbers, ``SHA256SUMS`` the digests of both (in
the form that ``sha256sum --check`` reads). Numbers are written with all their digits.
"""

import csv
import hashlib
import io
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from vibhealth import __version__
from vibhealth._toml import toml_value
from vibhealth.baseline.reference import (
    Baseline,
    Range,
    SpectrumStatistic,
)
from vibhealth.model import PatternKind

__all__ = ["AMPLITUDE_HEAD", "FACTS", "SCHEMA_VERSION", "SUMS", "baseline_documents", "sums_text"]

FACTS, SUMS = "baseline.toml", "SHA256SUMS"
SCHEMA_VERSION = 1
TABLES: Mapping[PatternKind, str] = {
    "order-spectrum": "order_spectrum.csv",
    "envelope-spectrum": "envelope_spectrum.csv",
    "whitened-envelope-spectrum": "whitened_envelope_spectrum.csv",
}
AMPLITUDE_HEAD = {"m/s2": "amplitude_m_s2", "counts": "amplitude_counts", "1": "depth"}

Row = Sequence[object]


def baseline_documents(baseline: Baseline) -> dict[str, str]:
    """All files of a baseline by name, the digests among them.

    Parameters
    ----------
    baseline : Baseline
        With its version.

    Returns
    -------
    dict of str to str
    """
    documents = {
        "levels.csv": _levels(baseline),
        "families.csv": _families(baseline),
        "half_octaves.csv": _half_octaves(baseline),
        "harmonics.csv": _harmonics(baseline),
        "sensitivity.csv": _sensitivity(baseline),
        **{TABLES[item.kind]: _spectrum(item) for item in baseline.spectra},
    }
    documents[FACTS] = _facts(baseline)
    documents[SUMS] = sums_text({name: text.encode() for name, text in documents.items()})
    return documents


def sums_text(documents: Mapping[str, bytes]) -> str:
    """Digests of files by name, as ``sha256sum`` writes them."""
    return "".join(
        f"{hashlib.sha256(content).hexdigest()}  {name}\n"
        for name, content in sorted(documents.items())
    )


def _csv(head: Row, rows: Iterable[Row]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(head)
    for row in rows:
        writer.writerow([_cell(value) for value in row])
    return text.getvalue()


def _cell(value: object) -> object:
    """Numbers with all their digits; nothing for what is not known."""
    if value is None or (isinstance(value, float) and not np.isfinite(value)):
        return ""
    return repr(float(value)) if isinstance(value, float) else value


def _spectrum(item: SpectrumStatistic) -> str:
    spread = item.spread_db if item.spread_db is not None else np.full(item.order.size, np.nan)
    head = ("order", AMPLITUDE_HEAD[item.unit], "above_floor_db", "spread_db")
    columns = (item.amplitude, item.above_floor_db, spread)
    rows = zip(*(map(float, column) for column in columns), strict=True)
    return _csv(head, ((f"{order:.2f}", *row) for order, row in zip(item.order, rows, strict=True)))


def _levels(baseline: Baseline) -> str:
    numbered = [f"recording_{place}" for place in range(1, baseline.n_recordings + 1)]
    head = ("id", "title", "unit", "band_low_hz", "band_high_hz", "mean", "spread_db", *numbered)
    return _csv(
        head,
        (
            (s.id, s.title, s.unit, *(s.band_hz or (None, None)), s.mean, s.spread_db, *s.values)
            for s in baseline.scalars
        ),
    )


FAMILY_KEYS = (
    "recording",
    "order",
    "slip_percent",
    "false_alarm_probability",
    "depth",
    "depth_whitened",
    "impact_m_s2",
    "result",
)


def _families(baseline: Baseline) -> str:
    return _csv(
        ("bearing", "element", *FAMILY_KEYS),
        (
            (family.bearing, family.element.value, *(getattr(item, key) for key in FAMILY_KEYS))
            for family in baseline.families
            for item in family.readings
        ),
    )


def _half_octaves(baseline: Baseline) -> str:
    size = baseline.bands_db.size
    spread = baseline.bands_spread_db
    spread = np.full(size, np.nan) if spread is None else spread
    columns = (baseline.bands_centre_hz, baseline.bands_db, spread)
    return _csv(
        ("centre_hz", "density_db", "spread_db"),
        zip(*(map(float, column) for column in columns), strict=True),
    )


def _harmonics(baseline: Baseline) -> str:
    orders = range(2, baseline.harmonics_db.size + 2)
    return _csv(
        ("order", "over_first_db"), zip(orders, map(float, baseline.harmonics_db), strict=True)
    )


def _sensitivity(baseline: Baseline) -> str:
    return _csv(
        ("bearing", "element", "detectable_depth"),
        ((bearing, el.value, depth) for bearing, el, depth in baseline.detectable_depths),
    )


def _facts(baseline: Baseline) -> str:
    conditions, orbit = baseline.conditions, baseline.orbit
    known: dict[str, dict[str, Any]] = {
        "": {
            "schema_version": SCHEMA_VERSION,
            "written_by": f"vibhealth {__version__}",
            "label": baseline.label,
        },
        "machine": {"id": baseline.machine_id, "name": baseline.machine_name},
        "baseline": {
            "point": baseline.point,
            "status": baseline.status.value,
            "version": baseline.version,
            "made_at": baseline.made_at,
            "accepted_by": baseline.accepted_by,
            "note": baseline.note,
            "flags": baseline.flags,
        },
        "conditions": {
            "shaft_frequency_hz": _pair(conditions.shaft_frequency_hz),
            "sampling_rate_hz": conditions.sampling_rate_hz,
            "unit": conditions.unit,
            "temperature_c": _pair(conditions.temperature_c),
            "load": conditions.load,
            "direction": conditions.direction,
            "sensor": conditions.sensor,
            "mount": conditions.mount,
            "bearings": conditions.bearings,
        },
    }
    if orbit is not None:
        known["orbit"] = {
            "points": orbit.points,
            "major_mm": orbit.major_mm,
            "minor_mm": orbit.minor_mm,
            "tilt_deg": orbit.tilt_deg,
            "direction": orbit.direction,
        }
    text = "\n".join(_table(f"[{name}]" if name else "", keys) for name, keys in known.items())
    for source in baseline.recordings:
        text += "\n" + _table(
            "[[recording]]",
            {
                "name": source.name,
                "sha256": source.sha256,
                "duration_s": source.duration_s,
                "shaft_frequency_hz": source.shaft_frequency_hz,
                "start_time": source.start_time,
                "temperature_c": source.temperature_c,
                "moment": source.moment.value if source.moment else None,
            },
        )
    for item in baseline.spectra:
        text += "\n" + _table(
            "[[spectrum]]",
            {
                "file": TABLES[item.kind],
                "kind": item.kind,
                "unit": item.unit,
                "n_averages": item.n_averages,
                "n_recordings": item.n_recordings,
                "band_hz": item.band_hz,
            },
        )
    return text


def _pair(pair: Range | None) -> tuple[float, float] | None:
    return None if pair is None else (pair.low, pair.high)


def _table(head: str, keys: Mapping[str, Any]) -> str:
    lines = [f"{key} = {toml_value(value)}" for key, value in keys.items() if value is not None]
    return "\n".join([*([head] if head else []), *lines]) + "\n"
