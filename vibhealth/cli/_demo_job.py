"""The invented job of the demo: a card, and recordings before and after two rebuilds."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from vibhealth.cli.simulate import settings_of

__all__ = ["CARD", "STAGES", "demo_card", "make_recordings"]

CARD = "F3.toml"
RATE_HZ = 10_240.0
FAULT_M_S2 = 4.0
FULL_SCALE_G = 50.0  # the range of the template's sensor
# Folder: strike of the outer-ring defect in m/s^2, seed on top of the demo's, start of the machine.
STAGES: dict[str, tuple[float | None, int, datetime]] = {
    "as-found": (FAULT_M_S2, 0, datetime(2031, 3, 3, 7, 30, tzinfo=UTC)),
    "as-left-clean": (None, 100, datetime(2031, 3, 5, 13, 0, tzinfo=UTC)),
    "as-left-faulty": (FAULT_M_S2 / 2, 200, datetime(2031, 3, 5, 13, 0, tzinfo=UTC)),
}
TEMPERATURE_C = 52.0


def demo_card() -> str:
    """Return the card template, with a bearing band that the demo's sampling rate can hold."""
    from vibhealth.card import card_template

    return card_template().replace(
        "bearing_band_hz = [1000.0, 10000.0]", "bearing_band_hz = [1000.0, 5000.0] "
    )


def make_recordings(card: Path, folder: Path, *, seconds: float, seed: int) -> list[Path]:
    """Write the recordings of all stages: 24-bit FLAC, invented and labelled so.

    Parameters
    ----------
    card : Path
        The demo's card.
    folder : Path
        Where the folders of the stages are made.
    seconds : float
        Length of each recording, above 0.
    seed : int
        At least 0.

    Returns
    -------
    list of Path
        In the order of `STAGES`.
    """
    from vibhealth.card import read_card
    from vibhealth.model import Element
    from vibhealth.simulate import Defect, simulate, write_simulated

    the_card = read_card(card)
    written = []
    for stage, (impact_m_s2, offset, start) in STAGES.items():
        defects = (
            []
            if impact_m_s2 is None
            else [Defect(element=Element.OUTER_RING, impact_m_s2=impact_m_s2)]
        )
        settings = settings_of(duration_s=seconds, sampling_rate_hz=RATE_HZ, seed=seed + offset)
        place = folder / stage
        place.mkdir(parents=True, exist_ok=True)
        written.append(
            write_simulated(
                place / "steady.flac",
                simulate(the_card, defects=defects, settings=settings),
                form="flac",
                full_scale_g=FULL_SCALE_G,
                sidecar=_circumstances(start),
                overwrite=True,
            )
        )
    return written


def _circumstances(start: datetime) -> dict[str, Any]:
    return {
        "start_time": start + timedelta(hours=1),  # an hour after the machine was started
        "temperature_c": TEMPERATURE_C,
        "load": "empty",
    }
