"""What a machine card implies, as plain text for a terminal or a printout."""

import textwrap
from collections.abc import Sequence
from typing import Any

from vibhealth.card import MachineCard
from vibhealth.model import RollingBearing
from vibhealth.report.card_facts import bearing_frequencies_dict, card_check_dict, frequencies_dict

__all__ = [
    "bearing_frequencies_dict",
    "bearing_frequencies_text",
    "card_check_dict",
    "card_check_text",
    "frequencies_dict",
    "frequencies_text",
]

WIDTH = 100
COLUMNS = "  {:<16} {:<5} {:>8} {:>17} {:>10} {:>21}"


def bearing_frequencies_text(
    bearing: RollingBearing,
    shaft_frequency_hz: float,
    slip_percent: float,
    *,
    others: Sequence[RollingBearing] = (),
) -> str:
    """Orders, frequencies, side bands and blind spots of one bearing.

    Parameters
    ----------
    bearing : RollingBearing
        From a card, or made on the spot.
    shaft_frequency_hz : float
        Above 0.
    slip_percent : float
        Half width of the search, 0 to 5.
    others : sequence of RollingBearing, optional
        Further bearings of the machine.

    Returns
    -------
    str
        Lines of at most 100 characters, ending with a newline.

    Raises
    ------
    InputError
        If the shaft frequency is not above 0 or the slip lies outside 0 to 5.
    """
    facts = bearing_frequencies_dict(bearing, shaft_frequency_hz, slip_percent, others=others)
    return "\n".join(_bearing_lines(facts)) + "\n"


def frequencies_text(card: MachineCard, speed_rpm: float | None = None) -> str:
    """Defect orders and frequencies of all bearings of a card.

    Parameters
    ----------
    card : MachineCard
        As read.
    speed_rpm : float, optional
        Above 0; the nominal speed without it.

    Returns
    -------
    str
        Lines of at most 100 characters, ending with a newline.

    Raises
    ------
    InputError
        If ``speed_rpm`` is not above 0.
    """
    return "\n".join(_frequency_lines(frequencies_dict(card, speed_rpm))) + "\n"


def card_check_text(card: MachineCard) -> str:
    """Everything a card implies before anyone records.

    Parameters
    ----------
    card : MachineCard
        As read.

    Returns
    -------
    str
        Lines ending with a newline.
    """
    facts = card_check_dict(card)
    blocks = [
        _frequency_lines(facts),
        _motion_lines(facts["motion"]),
        _recording_lines(facts),
        _list("Not judged with this card", facts["not_judged"], none="nothing is missing"),
        _list("Check before recording", facts["cautions"], none="nothing stands out"),
        _limit_lines(facts["limits"]),
    ]
    return "\n".join("\n".join(block) + "\n" for block in blocks if block)


def _wrapped(text: str, indent: str = "  ") -> list[str]:
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=indent,
        subsequent_indent=" " * (len(indent) + 2 * indent.isspace()),
        break_long_words=False,
        break_on_hyphens=False,
    )


def _list(heading: str, sentences: Sequence[str], *, none: str) -> list[str]:
    if not sentences:
        return [f"{heading}: {none}."]
    return [heading, *(line for sentence in sentences for line in _wrapped(sentence, "  - "))]


def _frequency_lines(facts: dict[str, Any]) -> list[str]:
    machine = facts["machine"]
    lines = [
        (
            f"{machine['name']} ({machine['id']}) at {facts['shaft_speed_rpm']:g} r/min "
            f"= {facts['shaft_frequency_hz']:.3f} Hz, slip range ±{facts['slip_percent']:g} %"
        )
    ]
    if not facts["bearings"]:
        lines.append("  The card has no [[bearing]]: no defect frequencies.")
    for bearing in facts["bearings"]:
        lines += ["", *_bearing_lines(bearing)]
    return lines


def _bearing_lines(facts: dict[str, Any]) -> list[str]:
    rows = "" if facts["rows"] == 1 else f" in each of {facts['rows']} rows"
    lines = [
        (
            f"Bearing {facts['name']}: {facts['element_count']} elements{rows}, "
            f"{facts['rotating_ring']} ring turns"
        ),
        *_wrapped(f"Load: {facts['load_case_words']}."),
        COLUMNS.format("element", "", "order", "slip range", "Hz", "slip range Hz"),
    ]
    lines += [
        COLUMNS.format(
            row["element"].replace("-", " "),
            row["label"],
            f"{row['order']:.4f}",
            f"{row['order_low']:.3f}..{row['order_high']:.3f}",
            f"{row['frequency_hz']:.2f}",
            f"{row['frequency_low_hz']:.2f}..{row['frequency_high_hz']:.2f}",
        )
        for row in facts["elements"]
    ]
    if facts["rolling_element_spin_order"] is not None:
        spin = facts["rolling_element_spin_order"]
        lines.append(f"  2BSF: an element strikes twice per own turn (BSF, spin: {spin:.4f}x)")
    lines += [line for row in facts["elements"] for line in _wrapped(_side_band_words(row))]
    return lines + [
        line for spot in facts["blind_spots"] for line in _wrapped(spot["sentence"], "  ! ")
    ]


def _side_band_words(row: dict[str, Any]) -> str:
    name = row["element"].replace("-", " ")
    if row["label"] == "FTF":
        shows = ", ".join(
            f"{band['spacing_order']:.4g}x ({band['strength']})" for band in row["side_bands"]
        )
        return f"Lines of the {name}: {shows or 'none'}"
    bands = ", ".join(
        f"±{band['spacing_order']:.4g}x {band['strength']} ({band['origin']})"
        for band in row["side_bands"]
    )
    return f"Side bands of the {name}: {bands or 'none'}"


def _motion_lines(motion: dict[str, Any] | None) -> list[str]:
    if motion is None:
        return ["Working motion: the card has no [exciter]; treated as an ordinary machine."]
    lines = ["Working motion at nominal speed"]
    lines += [
        f"  {axis['axis']}: stroke {axis['stroke_mm']:g} mm peak to peak = "
        f"{axis['acceleration_g']:.2f} g peak at 1x"
        for axis in motion["axes"]
    ]
    if not motion["axes"]:
        lines.append("  no stroke stated")
    if motion["orbit_direction"] is not None:
        lines.append(f"  orbit: {motion['orbit_direction']}, seen with x to the right and y up")
    if motion["isolator_speed_rpm"] is not None:
        lines += _wrapped(
            f"starting and stopping swing the body through its isolators at about "
            f"{motion['isolator_speed_rpm']:.0f} r/min: record run-up and coast-down too"
        )
    return lines


def _recording_lines(facts: dict[str, Any]) -> list[str]:
    recording = facts["recording"]
    low, high = recording["bearing_band_hz"]
    lines = [
        "How to record",
        (
            f"  sampling rate at least {recording['sampling_rate_hz_at_least']:g} Hz for the bearing "
            f"band {low:g} to {high:g} Hz"
        ),
        (
            f"  at least {recording['seconds_at_least']:.0f} s, better "
            f"{recording['seconds_recommended']:.0f} s, and "
            f"{recording['recordings_recommended']:g} recordings per point"
        ),
    ]
    for sensor in facts["sensors"]:
        parts = [sensor["calibration"] or f"sensor {sensor['name']}: no calibration"]
        if sensor["range_g"] is not None:
            parts.append(f"range {sensor['range_g']:g} g")
        if sensor["expected_g"] is not None:
            parts.append(f"working motion {sensor['expected_g']:.2f} g")
        if sensor["share_of_range"] is not None:
            parts.append(f"{100 * sensor['share_of_range']:.0f} % of the range")
        lines += _wrapped(", ".join(parts))
    return lines


def _limit_lines(limits: Sequence[dict[str, Any]]) -> list[str]:
    lines = ["Limits in force"]
    for row in limits:
        unit = "" if row["unit"] == "1" else f" {row['unit']}"
        value = "not applied" if row["value"] is None else f"{row['value']:g}{unit}"
        lines += _wrapped(f"{row['id']} = {value}: {row['meaning']} [{row['source']}]")
    return lines
