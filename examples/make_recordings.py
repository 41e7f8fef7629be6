"""Make the small recordings of this folder: an INVENTED machine, simulated, and labelled so.

Run from anywhere: ``python examples/make_recordings.py``. The same version of the package
gives the same bytes.
"""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from vibhealth.card import MachineCard, read_card
from vibhealth.model import Element
from vibhealth.simulate import Defect, Resonance, SimulationSettings, simulate, write_simulated

FOLDER = Path(__file__).parent
RATE_HZ = 8000.0
SECONDS = 26.0  # 422 turns, just above the 400 that are judged: these files are kept small
RESONANCES = (Resonance(frequency_hz=2800.0),)
FULL_SCALE_G = 50.0

# Name, seed, strike of an outer-ring spall in m/s^2, start.
RECORDINGS = (
    ("as-found", 21, 4.0, datetime(2031, 3, 3, 8, 30, tzinfo=UTC)),
    ("as-left-clean", 22, None, datetime(2031, 3, 5, 14, 0, tzinfo=UTC)),
    ("as-left-spalled", 23, 1.0, datetime(2031, 3, 5, 14, 0, tzinfo=UTC)),
)


def make(folder: Path = FOLDER) -> None:
    """Write all recordings with their sidecars."""
    card = read_card(FOLDER / "F3.toml")
    for name, seed, impact_m_s2, start_time in RECORDINGS:
        spall = [] if impact_m_s2 is None else [_spall(impact_m_s2)]
        settings = SimulationSettings(
            duration_s=SECONDS, sampling_rate_hz=RATE_HZ, seed=seed, resonances=RESONANCES
        )
        write_simulated(
            folder / f"{name}.flac",
            simulate(card, defects=spall, settings=settings),
            form="flac",
            full_scale_g=FULL_SCALE_G,
            sidecar={"start_time": start_time, "temperature_c": 52.0, "load": "empty"},
            overwrite=True,
        )
    _make_too_short(card, folder)


def _make_too_short(card: MachineCard, folder: Path) -> None:
    """One second as a table, as somebody in a hurry would bring it home."""
    settings = SimulationSettings(
        duration_s=1.0, sampling_rate_hz=RATE_HZ, seed=24, resonances=RESONANCES
    )
    simulated = simulate(card, settings=settings)
    write_simulated(
        folder / "too-short.csv",
        replace(simulated, samples=np.round(simulated.samples, 3)),
        form="csv",
        overwrite=True,
    )


def _spall(impact_m_s2: float) -> Defect:
    return Defect(element=Element.OUTER_RING, impact_m_s2=impact_m_s2)


if __name__ == "__main__":
    make()
