"""Cards on disk, made from a short valid one by changing text."""

from collections.abc import Callable
from pathlib import Path

import pytest

from vibhealth.card import MachineCard, read_card

FEEDER = """\
schema_version = 1
[machine]
id = "F3"
name = "Deck feeder F3"
nominal_speed_rpm = 978.0
[exciter]
stroke_mm = { x = 6.0, y = 6.0 }
[[bearing]]
name = "upper"
element_count = 17
element_diameter_mm = 26.0
pitch_diameter_mm = 160.0
load_case = "rotating"
[[sensor]]
name = "A1"
sensitivity_mv_per_g = 10.0
full_scale_v = 5.0
[[point]]
name = "P1X"
direction = "x"
sensor = "A1"
[analysis]
bearing_band_hz = [1000.0, 10000.0]
[limits]
"""


@pytest.fixture(scope="session")
def feeder() -> str:
    """A short valid card of the invented deck feeder F3."""
    return FEEDER


@pytest.fixture
def card(tmp_path: Path) -> Callable[..., MachineCard]:
    """Write the short card with (old, new) texts exchanged, and read it."""

    def make(*changes: tuple[str, str], text: str = FEEDER) -> MachineCard:
        for old, new in changes:
            assert text.count(old) == 1, f"{old!r} must stand once in the card"
            text = text.replace(old, new)
        path = tmp_path / "card.toml"
        path.write_text(text, "utf-8")
        return read_card(path)

    return make
