"""Reference signatures: what an invented machine with one chosen fault looks like."""

import csv
import io
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vibhealth.baseline.reference import (
    Baseline,
    Conditions,
    Range,
    SpectrumStatistic,
    Status,
)
from vibhealth.errors import BaselineError
from vibhealth.model import PatternKind
from vibhealth.signal.order_lines import ORDER_SPACING, order_floor

__all__ = ["Signature", "list_signatures", "read_signature"]

FACTS = "facts.toml"
TABLES: Mapping[PatternKind, tuple[str, str, str]] = {
    "order-spectrum": ("order_spectrum.csv", "amplitude_{}_m_s2", "m/s2"),
    "envelope-spectrum": ("envelope_spectrum.csv", "depth_{}", "1"),
}
FOLDER = "signatures"
FEWEST_LINES = 100
# Neighbouring segments of a Hann window that overlap by half share (1/6)^2 of their variance
# (P. D. Welch, IEEE Trans. Audio Electroacoust. 15 (1967) 70-73, from memory).
OVERLAP_SHARED = 1 + 2 * (1 / 6) ** 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """One signature: its spectra, and in words what it is and what to look for."""

    name: str
    meaning: str
    look_for: str
    spectra: Baseline


def list_signatures(folder: str | Path) -> tuple[Path, ...]:
    """Folders of signatures in a store of baselines, by name.

    Parameters
    ----------
    folder : str or Path
        Folder of all baselines; one without signatures gives none.

    Returns
    -------
    tuple of Path
    """
    place = Path(folder) / FOLDER
    if not place.is_dir():
        return ()
    return tuple(sorted(path for path in place.iterdir() if (path / FACTS).is_file()))


def read_signature(folder: str | Path, *, direction: str = "x") -> Signature:
    """Read one signature along one direction.

    Parameters
    ----------
    folder : str or Path
        With ``facts.toml`` and its tables.
    direction : {"x", "y"}
        Column of the tables; any other direction reads x.

    Returns
    -------
    Signature

    Raises
    ------
    BaselineError
        If a file is missing or does not hold what it should.
    """
    path = Path(folder)
    axis = direction if direction in {"x", "y"} else "x"
    try:
        facts = tomllib.loads((path / FACTS).read_text("utf-8"))
        return _signature(path, facts, axis)
    except (OSError, KeyError, ValueError, TypeError, ArithmeticError, csv.Error) as error:
        msg = f"{path}: no reference signature can be read ({type(error).__name__}: {error})"
        raise BaselineError(msg) from error


def _signature(path: Path, facts: Mapping[str, Any], axis: str) -> Signature:
    made, machine = facts["simulation"], facts["machine"]
    shaft_hz = float(machine["shaft_frequency_hz"])
    segments = 2 * float(made["duration_s"]) * shaft_hz / facts["spectra"]["segment_turns"] - 1
    n_averages = max(1.0, segments / OVERLAP_SHARED)
    band_hz = tuple(facts["spectra"]["bearing_band_hz"])
    spectra = []
    for kind, (name, column, unit) in TABLES.items():
        order, values = _columns(path / name, column.format(axis))
        power = np.maximum(values**2, np.finfo(np.float64).tiny)
        floor = np.sqrt(order_floor(power, n_averages))
        spectra.append(
            SpectrumStatistic(
                kind=kind,
                unit=unit,
                order=order,
                amplitude=np.sqrt(power),
                above_floor_db=20 * np.log10(np.sqrt(power) / floor),
                spread_db=None,
                n_averages=n_averages,
                n_recordings=1,
                band_hz=band_hz if kind == "envelope-spectrum" else None,
            )
        )
    nothing = np.array([], dtype=np.float64)
    return Signature(
        name=str(facts["name"]),
        meaning=str(facts["meaning"]),
        look_for=str(facts["look_for"]),
        spectra=Baseline(
            machine_id=str(machine["id"]),
            machine_name="invented machine",
            point=f"signature {facts['name']}, {axis}",
            status=Status.CANDIDATE,
            made_at=datetime(2000, 1, 1, tzinfo=UTC),
            accepted_by="",
            note="",
            flags=(),
            conditions=Conditions(
                shaft_frequency_hz=Range(low=shaft_hz, high=shaft_hz),
                sampling_rate_hz=float(made["sampling_rate_hz"]),
                unit="m/s2",
                direction=axis,
            ),
            recordings=(),
            scalars=(),
            families=(),
            spectra=tuple(spectra),
            harmonics_db=nothing,
            bands_centre_hz=nothing,
            bands_db=nothing,
            label=str(facts["label"]),
            path=str(path),
        ),
    )


def _columns(path: Path, name: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    rows = list(csv.DictReader(io.StringIO(path.read_text("utf-8"))))
    order = np.array([float(row["order"]) for row in rows], dtype=np.float64)
    if order.size < FEWEST_LINES or not np.allclose(np.diff(order), ORDER_SPACING, atol=1e-6):
        msg = f"{path.name} holds {order.size} lines, not every {ORDER_SPACING:g} orders"
        raise ValueError(msg)
    return order, np.array([float(row[name]) for row in rows], dtype=np.float64)
