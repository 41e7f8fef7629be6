"""Machines whose rebuilds are invented: deck feeder F3, or others drawn at random."""

from pathlib import Path

import numpy as np

from vibhealth.bearing import blind_spots
from vibhealth.card import MachineCard, card_template, read_card

__all__ = ["drawn_card", "job_card"]

MORE_POINTS = """
[[point]]
name = "P1Z"
direction = "z"
sensor = "A1"
channel = 3

[[point]]
name = "B1X"
direction = "x"
sensor = "A1"
channel = 4
mounted_on = "base"
"""
STROKE = "stroke_mm = { x = 6.0, y = 6.0 } "
BEARING_BAND = "bearing_band_hz = [1000.0, 10000.0]"
SPEED = "nominal_speed_rpm = 978.0 "
DIRECTION = 'orbit_direction = "counter-clockwise" '
ISOLATORS = "isolator_frequency_hz = 3.1 "
ELEMENTS = "element_count = 17 "
GUARD = "clearance_mm = 25.0 "
DIAMETER = "element_diameter_mm = 26.0 "
UNUSUAL = frozenset({"shaft-line", "coincidence"})


def job_card(folder: Path, fault: str | None, changes: dict[str, str] | None = None) -> MachineCard:
    """Deck feeder F3 with more points and unequal strokes, and what else is changed."""
    text = card_template()
    every = {
        STROKE: "stroke_mm = { x = 6.0, y = 5.0 } ",
        BEARING_BAND: "bearing_band_hz = [1000.0, 3900.0] ",
        "\n[analysis]": f"{MORE_POINTS}\n[analysis]",
    } | (changes or {})
    if fault == "drive-at-wrong-frequency":
        every['drive = "direct"  '] = 'drive = "inverter"  '
    for old, new in every.items():
        if text.count(old) != 1:
            msg = f"the card template holds {text.count(old)} times {old!r}, expected once"
            raise ValueError(msg)
        text = text.replace(old, new)
    path = folder / "F3.toml"
    path.write_text(text, "utf-8")
    return read_card(path)


def drawn_card(folder: Path, fault: str | None, seed: int) -> MachineCard:
    """Another machine: speed, strokes, sense, isolators and bearing drawn at random.

    600 to 1450 r/min, 4 to 9 mm, isolators at a quarter of the speed at most, bearings
    without blind spots (common practice, no source). The acceleration stays below 6 g.
    """
    rng = np.random.default_rng([seed, 78])
    while True:
        rpm = float(rng.uniform(600.0, 1450.0))
        x = float(rng.uniform(4.0, 9.0))
        if x / 2e3 * (2 * np.pi * rpm / 60) ** 2 > 6 * 9.80665:
            continue
        y = x * float(rng.uniform(0.6, 0.9)) if rng.random() < 0.7 else x
        isolator_hz = float(rng.uniform(2.0, min(4.5, rpm / 60 / 4)))
        changes = {
            SPEED: f"nominal_speed_rpm = {rpm:.0f}.0 ",
            STROKE: f"stroke_mm = {{ x = {x:.2f}, y = {y:.2f} }} ",
            DIRECTION: f'orbit_direction = "{rng.choice(["clockwise", "counter-clockwise"])}" ',
            ISOLATORS: f"isolator_frequency_hz = {isolator_hz:.2f} ",
            GUARD: "clearance_mm = 70.0 ",  # beyond the swing of the softest
            ELEMENTS: f"element_count = {int(rng.integers(11, 21))} ",
            DIAMETER: f"element_diameter_mm = {rng.uniform(20.0, 27.0):.1f} ",
        }
        try:
            card = job_card(folder, fault, changes)
            spots = blind_spots(card.rolling_bearings()[0], card.analysis.slip_percent)
        except ValueError:  # the elements would overlap
            continue
        if not any(spot.kind in UNUSUAL for spot in spots):
            return card
