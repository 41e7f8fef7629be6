"""A baseline read back from its files, number for number."""

import csv
import io
import tomllib
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vibhealth import __version__
from vibhealth.baseline.files import AMPLITUDE_HEAD, FACTS, SCHEMA_VERSION
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
from vibhealth.model import Element, Moment

__all__ = ["parse_baseline"]


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
    except (KeyError, ValueError, TypeError, IndexError, csv.Error) as error:
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
            bearings=conditions.get("bearings", ""),
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
