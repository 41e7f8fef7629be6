"""How results, numbers and foreign text are written, once for every renderer."""

import math
import re
import unicodedata
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from textwrap import shorten

from vibhealth.acceptance import found_words
from vibhealth.model import CageSpeed, CriterionResult, Group, Hold, SensitivityFinding, Stage

__all__ = [
    "GROUP_TITLES",
    "HOLD_WORDS",
    "MARKS",
    "NOT_MEASURED",
    "PATTERN_WORDS",
    "STAGE_WORDS",
    "Mark",
    "band",
    "cage_sentence",
    "clean",
    "comparison",
    "counted",
    "file_label",
    "file_stem",
    "interval",
    "number",
    "quantity",
    "sensitivity_sentence",
    "sentences",
    "short_source",
    "unit_text",
]

NOT_MEASURED = "not measured"
LEAST_RATIO = 0.01  # a smaller share of a limit is no better news
SOURCE_COLUMNS = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A result as word, shape and tone; word and shape stand without colour."""

    word: str
    symbol: str
    tone: str


MARKS = {
    CriterionResult.PASS: Mark(word="PASS", symbol="✓", tone="pass"),
    CriterionResult.WATCH: Mark(word="WATCH", symbol="▲", tone="watch"),
    CriterionResult.HOLD: Mark(word="HOLD", symbol="■", tone="hold"),
    CriterionResult.NOT_JUDGED: Mark(word="NOT JUDGED", symbol="?", tone="not-judged"),
}
HOLD_WORDS = {
    Hold.STOP_NOW: "STOP NOW",
    Hold.MEASURE_AGAIN: "MEASURE AGAIN",
    Hold.FIX: "FIX",
}
GROUP_TITLES = {
    Group.JOB: "Work by hand",
    Group.RECORDING: "Recording",
    Group.STATE: "State of the machine",
    Group.MOTION: "Motion",
    Group.START_AND_STOP: "Start and stop",
    Group.BEARING: "Bearing",
    Group.SENSITIVITY: "Sensitivity",
    Group.STABILITY: "Stability",
    Group.IMPROVEMENT: "Improvement",
}
STAGE_WORDS = {
    Stage.AS_FOUND: "as found (before)",
    Stage.AS_LEFT: "as left (after)",
    Stage.UNSTATED: "stage not stated",
}
_COUNT_WORDS = {
    CriterionResult.HOLD: "on hold",
    CriterionResult.NOT_JUDGED: "not judged",
    CriterionResult.WATCH: "to watch",
    CriterionResult.PASS: "passed",
}
PATTERN_WORDS = {
    "": "",
    "single-mark": "a single mark",
    "marks-at-every-element": "marks at every element spacing (standing or knocked while still: "
    "brinelling), not a single spall: ask how it was stored and transported, whether it was "
    "dropped or hammered",
}
_UNITS = {
    "": "",
    "1": "",
    "m/s2": "m/s²",
    "mm/s": "mm/s",
    "mm2/s": "mm²/s",
    "percent": "%",
    "deg": "°",
    "c": "°C",
    "degC": "°C",
    "(m/s2)2/hz": "(m/s²)²/Hz",
    "(m/s2)^2/Hz": "(m/s²)²/Hz",
    "rpm": "r/min",
}
# Units that are counts, and how one of them is called.
_SINGULAR = {"recordings": "recording", "turns": "turn", "points": "point", "trials": "trial"}
_DEVIATIONS = frozenset({"percent", "%"})
# Zero of these scales is no absence of the quantity: a ratio would say nothing.
_BY_DIFFERENCE = frozenset({"dB", "c", "degC"})
_SUPERSCRIPTS = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
# Control, format (also the ones that turn the writing direction), surrogate, line separators.
_UNPRINTABLE = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})


def clean(text: object) -> str:
    r"""Text from outside with everything unprintable written out as an escape.

    File names and remarks may hold terminal controls, line ends or marks that
    turn the writing direction; none of them may act on a report.

    >>> clean("a\x1b[31m.wav")
    'a\\x1b[31m.wav'
    """
    return "".join(
        character.encode("unicode_escape").decode("ascii")
        if unicodedata.category(character) in _UNPRINTABLE
        else character
        for character in str(text)
    )


def number(value: float, *, digits: int = 3) -> str:
    """Round for reading: three digits, whole numbers from a thousand on.

    >>> number(0.061234), number(25600.0), number(0.00002134)
    ('0.0612', '25600', '2.13×10⁻⁵')
    """
    if not math.isfinite(value):
        return NOT_MEASURED
    magnitude = abs(value)
    if magnitude == 0:
        return "0"
    if magnitude >= 1e7 or magnitude < 1e-4:
        mantissa, exponent = f"{value:.{digits - 1}e}".split("e")
        return f"{mantissa}×10{str(int(exponent)).translate(_SUPERSCRIPTS)}"
    if magnitude >= 1000:
        return f"{value:.0f}"
    return f"{value:.{digits}g}"


def sentences(*texts: str) -> str:
    """Texts one after the other, each closed by a full stop; empty ones left out.

    >>> sentences("978 turns, 1000 wanted", "", "Record again.")
    '978 turns, 1000 wanted. Record again.'
    """
    return " ".join(text if text[-1] in ".!?" else f"{text}." for text in texts if text)


def unit_text(unit: str) -> str:
    """Return a unit as printed; a plain ratio has none.

    >>> unit_text("m/s2"), unit_text("1")
    ('m/s²', '')
    """
    return _UNITS.get(unit, clean(unit))


def quantity(value: float | str | None, unit: str, *, digits: int = 3) -> str:
    """Value with its unit, or the words that it was not measured.

    >>> quantity(5.4321, "mm"), quantity(None, "mm"), quantity(14.0, "percent")
    ('5.43 mm', 'not measured', '14 %')
    >>> quantity(1, "recordings"), quantity(3, "recordings")
    ('1 recording', '3 recordings')
    """
    if value is None:
        return NOT_MEASURED
    if isinstance(value, str):
        return clean(value)
    text = number(float(value), digits=digits)
    if text == NOT_MEASURED:
        return text
    words = _SINGULAR.get(unit, unit_text(unit)) if text == "1" else unit_text(unit)
    return f"{text}{'' if words == '°' else ' '}{words}".rstrip()


def comparison(value: float | str | None, limit: float | str | None, unit: str) -> str:
    """How far a value stands from its limit; empty where either is not a number.

    Numbers are compared by their ratio, percentages with the sign left out (they
    deviate to either side), decibels, temperatures and anything else by the
    difference. Which side of the limit is the good one is not said here:
    the result says it.

    >>> comparison(3.0, 2.0, "m/s2"), comparison(3.0, 5.0, "dB")
    ('1.5 × limit', '2 dB below limit')
    >>> comparison(-0.5, 2.0, "percent"), comparison(1e-6, 0.05, "1")
    ('0.25 × limit', '< 0.01 × limit')
    """
    if value is None or limit is None or isinstance(value, str) or isinstance(limit, str):
        return ""
    if not (math.isfinite(value) and math.isfinite(limit)):
        return ""
    if value == limit:
        return "at the limit"
    is_deviation = unit in _DEVIATIONS
    if unit not in _BY_DIFFERENCE and limit > 0 and (value >= 0 or is_deviation):
        ratio = abs(value) / limit
        return (
            f"< {LEAST_RATIO} × limit"
            if ratio < LEAST_RATIO
            else (f"{number(ratio, digits=2)} × limit")
        )
    side = "above" if value > limit else "below"
    return f"{quantity(abs(value - limit), unit)} {side} limit"


def short_source(source: str) -> str:
    """Where a limit comes from in a few words, for a line that has no room for more.

    >>> short_source("starting value, common practice, no source; below a chance of 0.001")
    'starting value'
    >>> short_source("card, exciter.stroke_mm")
    'card, exciter.stroke_mm'
    """
    first = source.partition(";")[0].strip()
    for words in ("starting value", "common practice"):
        if first.startswith(words):
            return words
    return shorten(first, SOURCE_COLUMNS, placeholder="…")


def counted(results: Iterable[CriterionResult]) -> str:
    """How many passed and how many did not, in words; what is none is left out.

    >>> counted([CriterionResult.PASS, CriterionResult.WATCH, CriterionResult.PASS])
    '1 to watch, 2 passed'
    """
    found = Counter(results)
    return ", ".join(f"{found[result]} {words}" for result, words in _COUNT_WORDS.items()
                     if found[result])  # fmt: skip


def band(band_hz: tuple[float, float] | None) -> str:
    """Band edges for reading, or that the whole recording is meant.

    >>> band((1000.0, 10000.0)), band(None)
    ('1000 to 10000 Hz', 'whole recording')
    """
    if band_hz is None:
        return "whole recording"
    return f"{number(band_hz[0])} to {number(band_hz[1])} Hz"


def interval(edges: tuple[float, float] | None, unit: str = "1") -> str:
    """Edges in parentheses after their value, with a leading blank; nothing without them.

    >>> interval((0.5512, 0.704)), interval((0.41, 0.72), "m/s2"), interval(None)
    (' (0.55 to 0.70)', ' (0.41 to 0.72)', '')
    """
    if edges is None:
        return ""
    low, high = (f"{x:.2f}" if unit == "1" else number(x, digits=2) for x in edges)
    return f" ({low} to {high})"


def file_stem(*parts: str) -> str:
    """Names from outside as part of a file name: letters, digits, hyphens.

    >>> file_stem("levels", "P1/X ä")
    'levels-P1-X--'
    """
    kept = "-".join(parts)
    return "".join(c if c.isascii() and (c.isalnum() or c in "-_") else "-" for c in kept)


def file_label(path: str) -> str:
    r"""Name of a file with its folder: names alone repeat from stage to stage.

    >>> file_label("job/as-left/steady.flac"), file_label("C:\\a\\b.wav"), file_label("b.wav")
    ('as-left/steady.flac', 'a/b.wav', 'b.wav')
    """
    parts = [part for part in re.split(r"[/\\]", path) if part not in {"", "."}]
    return clean("/".join(parts[-2:]))


def cage_sentence(item: CageSpeed) -> str:
    """Speed and slip of the cage, and which families tell it."""
    names = [element.words for element in item.elements]
    source = " and ".join(filter(None, [", ".join(names[:-1]), *names[-1:]]))
    turns = f"cage turns at {item.order:.4f}x ({item.low:.4f} to {item.high:.4f})"
    words = f"Bearing {clean(item.bearing)}: {turns}, slip {item.slip_percent:+.1f} %"
    words += f", from {source}" if source else ""
    return sentences("; ".join(filter(None, [words, clean(item.detail)])))


def sensitivity_sentence(finding: SensitivityFinding) -> str:
    """Return what one sensitivity finding means, in words, with its numbers.

    A size that is not finite means that no size tried was found.
    """
    words = f"Bearing {clean(finding.bearing)}: {found_words(finding)}"
    depth, impact = finding.detectable_depth, finding.detectable_impact_m_s2
    if math.isfinite(depth) and impact is not None and math.isfinite(impact):
        words += f"; as modulation depth {number(depth, digits=2)} or more"
    return f"{words}."
