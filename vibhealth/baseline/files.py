"""A baseline as files that a person and pandas can read, and back, number for number.

``baseline.toml`` holds the facts, CSV tables the numbers, ``SHA256SUMS`` the digests of both (in
the form that ``sha256sum --check`` reads). Numbers are written with all their digits.
"""

import csv
import hashlib
import io
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vibhealth import __version__
from vibhealth._toml import toml_value
from vibhealth.baseline.reference import (
    Baseline,
    Conditions,
    FamilyReading,
    FamilyStatistic,
    OrbitReading,
    Range,
    Scalar,
    SourceRecording,
    SpectrumStatistic,
    Status,
)
from vibhealth.errors import BaselineError
from vibhealth.model import Element, Moment, PatternKind

__all__ = ["FACTS", "SUMS", "baseline_documents", "parse_baseline", "sums_text"]

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


def parse_baseline(documents: Mapping[str, bytes], *, path: Path, digest: str) -> Baseline:
    """Read a baseline from the content of its files, whose digests were checked before.

    Parameters
    ----------
    documents : mapping of str to bytes
        By file name.
    path : Path
        The folder, for messages.
    digest : str
        Of the list of digests.

    Returns
    -------
    Baseline

    Raises
    ------
    BaselineError
        If the files are of another edition, or do not hold what they should.
    """
    try:
        facts = tomllib.loads(documents[FACTS].decode())
        if facts["schema_version"] != SCHEMA_VERSION:
            msg = (
                f"{path / FACTS}: edition {facts['schema_version']} of the layout is not known to "
                f"vibhealth {__version__}; read it with a later one"
            )
            raise BaselineError(msg)
        return _baseline(facts, documents, path=path, digest=digest)
    except (KeyError, ValueError, TypeError, IndexError) as error:
        if isinstance(error, BaselineError):
            raise
        msg = (
            f"{path}: these files are no baseline that vibhealth {__version__} can read "
            f"({type(error).__name__}: {error}); make it again from its recordings"
        )
        raise BaselineError(msg) from error


def _baseline(
    facts: Mapping[str, Any], documents: Mapping[str, bytes], *, path: Path, digest: str
) -> Baseline:
    def table(name: str) -> list[dict[str, str]]:
        return list(csv.DictReader(io.StringIO(documents[name].decode())))

    own, conditions, orbit = facts["baseline"], facts["conditions"], facts.get("orbit")
    octaves = table("half_octaves.csv")
    spread = _column(octaves, "spread_db")
    return Baseline(
        machine_id=facts["machine"]["id"],
        machine_name=facts["machine"]["name"],
        point=own["point"],
        status=Status(own["status"]),
        version=own["version"],
        made_at=_moment_of(own["made_at"]),
        accepted_by=own["accepted_by"],
        note=own["note"],
        flags=tuple(own["flags"]),
        conditions=Conditions(
            shaft_frequency_hz=_range(conditions["shaft_frequency_hz"]),
            sampling_rate_hz=conditions["sampling_rate_hz"],
            unit=conditions["unit"],
            temperature_c=_range(conditions["temperature_c"])
            if "temperature_c" in conditions
            else None,
            load=conditions["load"],
            direction=conditions["direction"],
            sensor=conditions["sensor"],
            mount=conditions["mount"],
        ),
        recordings=tuple(_source(row) for row in facts["recording"]),
        scalars=tuple(_scalar(row, len(facts["recording"])) for row in table("levels.csv")),
        families=_family_statistics(table("families.csv")),
        spectra=tuple(_statistic(row, table(row["file"])) for row in facts.get("spectrum", ())),
        harmonics_db=_column(table("harmonics.csv"), "over_first_db"),
        bands_centre_hz=_column(octaves, "centre_hz"),
        bands_db=_column(octaves, "density_db"),
        bands_spread_db=None if np.isnan(spread).all() else spread,
        orbit=None
        if orbit is None
        else OrbitReading(
            points=tuple(orbit["points"]),
            major_mm=orbit["major_mm"],
            minor_mm=orbit["minor_mm"],
            tilt_deg=orbit["tilt_deg"],
            direction=orbit["direction"],
        ),
        detectable_depths=tuple(
            (row["bearing"], Element(row["element"]), float(row["detectable_depth"]))
            for row in table("sensitivity.csv")
        ),
        label=facts["label"],
        digest=digest,
        path=str(path),
    )


def _column(rows: Sequence[Mapping[str, str]], name: str) -> NDArray[np.float64]:
    return np.array([float(row[name] or "nan") for row in rows], dtype=np.float64)


def _number(text: str) -> float | None:
    return float(text) if text else None


def _range(pair: Sequence[float]) -> Range:
    low, high = pair
    return Range(low=low, high=high)


def _moment_of(value: object) -> datetime:
    if not isinstance(value, datetime):
        msg = f"made_at must be a date and time, got {value!r}"
        raise TypeError(msg)
    return value


def _source(row: Mapping[str, Any]) -> SourceRecording:
    return SourceRecording(
        name=row["name"],
        sha256=row["sha256"],
        duration_s=row["duration_s"],
        shaft_frequency_hz=row["shaft_frequency_hz"],
        start_time=row.get("start_time"),
        temperature_c=row.get("temperature_c"),
        moment=Moment(row["moment"]) if "moment" in row else None,
    )


def _scalar(row: Mapping[str, str], n_recordings: int) -> Scalar:
    low, high = _number(row["band_low_hz"]), _number(row["band_high_hz"])
    return Scalar(
        id=row["id"],
        title=row["title"],
        unit=row["unit"],
        values=tuple(_number(row[f"recording_{place + 1}"]) for place in range(n_recordings)),
        band_hz=None if low is None or high is None else (low, high),
    )


def _family_statistics(rows: Sequence[Mapping[str, str]]) -> tuple[FamilyStatistic, ...]:
    keys = dict.fromkeys((row["bearing"], row["element"]) for row in rows)
    return tuple(
        FamilyStatistic(
            bearing=bearing,
            element=Element(element),
            readings=tuple(
                FamilyReading(
                    recording=int(row["recording"]),
                    order=float(row["order"]),
                    slip_percent=float(row["slip_percent"]),
                    false_alarm_probability=float(row["false_alarm_probability"]),
                    depth=float(row["depth"]),
                    depth_whitened=float(row["depth_whitened"]),
                    impact_m_s2=_number(row["impact_m_s2"]),
                    result=row["result"],
                )
                for row in rows
                if (row["bearing"], row["element"]) == (bearing, element)
            ),
        )
        for bearing, element in keys
    )


def _statistic(row: Mapping[str, Any], lines: Sequence[Mapping[str, str]]) -> SpectrumStatistic:
    spread = _column(lines, "spread_db")
    return SpectrumStatistic(
        kind=row["kind"],
        unit=row["unit"],
        order=_column(lines, "order"),
        amplitude=_column(lines, AMPLITUDE_HEAD[row["unit"]]),
        above_floor_db=_column(lines, "above_floor_db"),
        spread_db=None if np.isnan(spread).all() else spread,
        n_averages=row["n_averages"],
        n_recordings=row["n_recordings"],
        band_hz=tuple(row["band_hz"]) if "band_hz" in row else None,
    )
