"""Baselines in words and as plain values: everything that is known, nothing that is not."""

import json
import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from vibhealth.baseline import (
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
    Stored,
)
from vibhealth.errors import InputError
from vibhealth.model import Element, Moment
from vibhealth.report import (
    baseline_dict,
    baseline_list_dict,
    baseline_list_text,
    baseline_text,
    dumps,
    schema,
)

MADE = datetime(2031, 3, 6, 8, 0, tzinfo=UTC)
CONTROL = "\x1b[31m\u202e"
SHOWN = "\\x1b[31m\\u202e"


def reading(recording: int = 1, **changes: Any) -> FamilyReading:
    """Of the outer ring, in the noise."""
    known = FamilyReading(
        recording=recording,
        order=7.112,
        slip_percent=0.1,
        false_alarm_probability=0.4,
        depth=0.03,
        depth_whitened=0.04,
        impact_m_s2=None,
        result="pass",
    )
    return replace(known, **changes)


def source(number: int, **changes: Any) -> SourceRecording:
    """A recording of 60 s at 978 r/min."""
    known = SourceRecording(
        name=f"24h/{number}.wav",
        sha256=f"{number}" * 64,
        duration_s=60.0,
        shaft_frequency_hz=16.3,
        start_time=MADE,
        temperature_c=50.0,
        moment=Moment.HOUR_24,
    )
    return replace(known, **changes)


def spectrum(**changes: Any) -> SpectrumStatistic:
    """An envelope spectrum without any line: its floor alone."""
    order = np.arange(0.1, 30.0, 0.02)
    known = SpectrumStatistic(
        kind="envelope-spectrum",
        unit="1",
        order=order,
        amplitude=np.full(order.size, 0.01),
        above_floor_db=np.zeros(order.size),
        spread_db=None,
        n_averages=30.0,
        n_recordings=2,
        band_hz=(1000.0, 3900.0),
    )
    return replace(known, **changes)


def baseline(**changes: Any) -> Baseline:
    """Of point P1X of deck feeder F3, made of two recordings."""
    known = Baseline(
        machine_id="F3",
        machine_name="Deck feeder F3",
        point="P1X",
        status=Status.KNOWN_GOOD,
        made_at=MADE,
        accepted_by="B. Good",
        note="",
        flags=(),
        conditions=Conditions(
            shaft_frequency_hz=Range(low=16.3, high=16.4),
            sampling_rate_hz=25600.0,
            unit="m/s2",
            temperature_c=Range(low=50.0, high=52.5),
            load="empty",
            direction="x",
            sensor="A1 (serial 17)",
            mount="stud",
        ),
        recordings=(source(1), source(2)),
        scalars=(
            Scalar(id="stroke-mm", title="stroke, peak to peak", unit="mm", values=(6.0, 6.0)),
            Scalar(
                id="bearing-band-rms",
                title="rms, bearing band",
                unit="m/s2",
                values=(1.0, 2.0),
                band_hz=(1000.0, 3900.0),
            ),
            Scalar(id="silent", title="level that was never read", unit="1", values=(None, None)),
        ),
        families=(
            FamilyStatistic(
                bearing="upper", element=Element.OUTER_RING, readings=(reading(1), reading(2))
            ),
        ),
        spectra=(spectrum(),),
        harmonics_db=np.array([-30.0, -40.0]),
        bands_centre_hz=np.array([500.0, 1000.0, 2000.0]),
        bands_db=np.array([-40.0, -45.0, -50.0]),
        version=3,
        digest="d" * 64,
        path="reference_spectra/F3/P1X/v3",
    )
    return replace(known, **changes)


def stored(item: Baseline, **changes: Any) -> Stored:
    """Its folder."""
    known = Stored(
        path=Path(item.path), status=item.status, version=item.version, is_superseded=False
    )
    return replace(known, **changes)


def flat(text: str) -> str:
    return " ".join(text.split())


def listed(*rows: tuple[Stored, Baseline | None, str], width: int = 100) -> list[list[str]]:
    """Cells of the rows of the table, below its head."""
    lines = baseline_list_text(rows, width=width).splitlines()
    return [line.split() for line in lines[2 : 2 + len(rows)]]


# --- the list ---------------------------------------------------------------------------------


def test_the_list_says_which_is_in_force() -> None:
    old, new = baseline(version=1, path="s/F3/P1X/v1"), baseline(version=2, path="s/F3/P1X/v2")
    candidate = baseline(
        status=Status.CANDIDATE, accepted_by="", version=1, path="s/F3/P1X/candidate-1"
    )
    found = listed(
        (stored(old, is_superseded=True), old, ""),
        (stored(new), new, ""),
        (stored(candidate), candidate, ""),
    )
    assert [" ".join(cells) for cells in found] == [
        "F3 P1X v1 superseded 2031-03-06 B. Good 2",
        "F3 P1X v2 in force 2031-03-06 B. Good 2",
        "F3 P1X candidate-1 candidate 2031-03-06 nobody yet 2",
    ]


def test_an_older_candidate_is_a_candidate() -> None:
    item = baseline(status=Status.CANDIDATE, accepted_by="", path="s/F3/P1X/candidate-1")
    (cells,) = listed((stored(item, is_superseded=True), item, ""))
    assert cells[3] == "candidate"


def test_a_damaged_one_is_listed_with_its_sentence() -> None:
    whole, gone = baseline(), baseline(path="s/F4/P2Y/v7", version=7)
    rows = [(stored(gone), None, "s/F4/P2Y/v7/levels.csv: changed"), (stored(whole), whole, "")]
    text = baseline_list_text(rows)
    assert "F4 P2Y v7 DAMAGED" in flat(text)
    assert "× s/F4/P2Y/v7/levels.csv: changed" in text
    damaged, other = baseline_list_dict(rows)["baselines"]
    assert damaged == {
        "path": str(Path("s/F4/P2Y/v7")),
        "state": "damaged",
        "version": 7,
        "fault": "s/F4/P2Y/v7/levels.csv: changed",
    }
    assert (other["state"], other["fault"], other["digest"]) == ("in-force", None, "d" * 64)


def test_invented_ones_are_counted() -> None:
    real, invented = baseline(), baseline(label="INVENTED: made by simulation")
    rows = [(stored(real), real, ""), (stored(invented), invented, "")]
    assert "1 of them INVENTED" in baseline_list_text(rows)
    assert "INVENTED" not in baseline_list_text(rows[:1])


def test_nothing_kept_says_how_to_make_one() -> None:
    text = baseline_list_text([])
    assert text == "No baseline is kept here. Make one with: vibhealth baseline make\n"
    assert baseline_list_dict([])["baselines"] == []


def test_names_in_the_list_do_nothing_to_a_terminal() -> None:
    item = baseline(machine_id=f"F{CONTROL}", point=f"P{CONTROL}", accepted_by=f"B{CONTROL}")
    rows = [(stored(item), item, ""), (stored(item), None, f"fault {CONTROL}")]
    text = baseline_list_text(rows, width=200)
    assert "\x1b" not in text
    assert "\u202e" not in text
    assert text.count(SHOWN) == 4


def test_nor_do_folders_of_a_damaged_one() -> None:
    item = baseline(path=f"s/{CONTROL}/P1X/v1")
    assert "\x1b" not in baseline_list_text([(stored(item), None, "a fault")])


# --- one in full ------------------------------------------------------------------------------


def test_everything_known_is_said() -> None:
    item = baseline(
        note="by 2 °C only",
        flags=("the housing warmed up", "something else"),
        orbit=OrbitReading(
            points=("P1X", "P1Y"), major_mm=3.05, minor_mm=2.95, tilt_deg=12.4, direction="ccw"
        ),
    )
    page = flat(baseline_text(item))
    for words in (
        "Deck feeder F3: baseline of F3, P1X, version 3",
        "Accepted by B. Good",
        "Made 2031-03-06 08:00 UTC",
        "Against it the housing warmed up; something else",
        "Note by 2 °C only",
        "Speed 978.0 to 984.0 r/min",
        "Housing 50 to 52.5 °C",
        "State empty, x",
        "Means A1 (serial 17), stud, 25600 Hz",
        "Orbit 3.05 × 2.95 mm, 12°, ccw",
        f"Digest {'d' * 64}",
        "LEVELS AND MOTION",
        "FAMILIES",
        f"- 24h/1.wav: 60 s, 978.0 r/min, 50 °C, 2031-03-06 08:00; sha256 {'1' * 16}...",
    ):
        assert words in page, words


def test_nothing_is_said_of_what_is_not_known() -> None:
    bare = Conditions(
        shaft_frequency_hz=Range(low=16.3, high=16.3), sampling_rate_hz=8000.0, unit="m/s2"
    )
    item = baseline(
        conditions=bare,
        families=(),
        digest="",
        recordings=(source(1, start_time=None, temperature_c=None, moment=None),),
    )
    text = baseline_text(item)
    for words in ("Against it", "Note", "Housing", "Orbit", "Digest", "FAMILIES", "°C", "None"):
        assert words not in text, words
    page = flat(text)
    assert "State load not stated" in page
    assert "Means 8000 Hz" in page
    assert f"- 24h/1.wav: 60 s, 978.0 r/min; sha256 {'1' * 16}..." in page


def test_a_level_has_its_mean_spread_and_band() -> None:
    """Of 1 and 2 m/s²: the mean is sqrt(2), the spread 20 log10(2) / sqrt(2) = 4.26 dB."""
    lines = baseline_text(baseline()).splitlines()
    (stroke,) = [line for line in lines if "stroke, peak to peak" in line]
    assert flat(stroke) == "stroke, peak to peak 6 mm 0.0 dB"
    (level,) = [line for line in lines if "rms, bearing band" in line]
    assert "1.41 m/s²" in level
    assert "4.3 dB" in level
    assert level.rstrip().endswith("Hz")
    assert not any("never read" in line for line in lines)
    single = Scalar(id="a", title="a level", unit="mm", values=(6.0,))
    (once,) = [
        li for li in baseline_text(baseline(scalars=(single,))).splitlines() if "a level" in li
    ]
    assert flat(once) == "a level 6 mm"


def test_a_family_is_significant_in_so_many() -> None:
    """The mean depth is the geometric one: sqrt(0.1 x 0.4) = 0.2."""
    family = FamilyStatistic(
        bearing="upper",
        element=Element.ROLLING_ELEMENT,
        readings=(
            reading(1, depth_whitened=0.1, false_alarm_probability=0.001),
            reading(2, depth_whitened=0.4, false_alarm_probability=0.0011),
        ),
    )
    text = baseline_text(baseline(families=(family,)))
    assert "upper, rolling element 7.112 0.20 1 of 2" in flat(text)


def test_a_candidate_is_called_one() -> None:
    item = baseline(status=Status.CANDIDATE, accepted_by="", version=1)
    page = flat(baseline_text(item))
    assert "baseline of F3, P1X, candidate 1" in page
    assert "Accepted by nobody yet: a candidate" in page


def test_an_invented_one_says_so_at_once() -> None:
    lines = baseline_text(baseline(label="INVENTED: made by simulation")).splitlines()
    assert lines[1] == "INVENTED: made by simulation"
    assert "INVENTED" not in baseline_text(baseline())


def hostile() -> Baseline:
    """Terminal controls in every text that comes from a card, a recording or the command line."""
    known = baseline()
    return replace(
        known,
        machine_name=CONTROL,
        machine_id=CONTROL,
        point=CONTROL,
        accepted_by=CONTROL,
        note=CONTROL,
        flags=(CONTROL,),
        conditions=replace(
            known.conditions, load=CONTROL, direction=CONTROL, sensor=CONTROL, mount=CONTROL
        ),
        recordings=(source(1, name=CONTROL),),
        scalars=(replace(known.scalars[0], title=CONTROL),),
        families=(replace(known.families[0], bearing=CONTROL),),
    )


def test_names_do_nothing_to_a_terminal() -> None:
    text = baseline_text(hostile(), width=200)
    assert "\x1b" not in text
    assert "\u202e" not in text
    assert text.count(SHOWN) == 13


@pytest.mark.parametrize(
    "changes",
    [
        {"label": CONTROL},
        {
            "orbit": OrbitReading(
                points=("P1X", "P1Y"), major_mm=3.0, minor_mm=3.0, tilt_deg=0.0, direction=CONTROL
            )
        },
    ],
)
def test_nor_do_label_and_orbit(changes: dict[str, Any]) -> None:
    assert "\x1b" not in baseline_text(baseline(**changes))


@pytest.mark.parametrize("width", [40, 60, 100, 120])
def test_both_keep_to_the_width(width: int) -> None:
    item = baseline(machine_name="deck " * 30, note="because " * 30, digest="d" * 64)
    rows: Sequence[tuple[Stored, Baseline | None, str]] = [
        (stored(item), item, ""),
        (stored(item), None, "reference_spectra/F3/P1X/v3/levels.csv: changed " * 3),
    ]
    for text in (baseline_text(item, width=width), baseline_list_text(rows, width=width)):
        assert max(map(len, text.splitlines())) <= width
        assert text.endswith("\n")
        assert not any(line != line.rstrip() for line in text.splitlines())


def test_less_than_forty_columns_are_refused() -> None:
    with pytest.raises(InputError, match="at least 40"):
        baseline_text(baseline(), width=39)


def test_colour_is_an_addition() -> None:
    plain, coloured = baseline_text(baseline()), baseline_text(baseline(), color=True)
    assert "\x1b" not in plain
    assert "\x1b[" in coloured
    assert "Accepted by" in coloured


# --- plain values -----------------------------------------------------------------------------


def test_the_values_keep_the_schema() -> None:
    for item in (baseline(), hostile(), baseline(families=(), scalars=())):
        document = json.loads(dumps({"schema_version": 1, **baseline_dict(item)}))
        jsonschema.validate(document, schema("baseline"))


def test_the_values_are_those_of_the_baseline() -> None:
    document = json.loads(dumps(baseline_dict(baseline())))
    assert document["conditions"]["shaft_frequency_hz"] == [16.3, 16.4]
    assert document["conditions"]["temperature_c"] == [50.0, 52.5]
    level = next(row for row in document["levels"] if row["id"] == "bearing-band-rms")
    assert level["values"] == [1.0, 2.0]
    assert level["mean"] == pytest.approx(math.sqrt(2))
    assert level["spread_db"] == pytest.approx(20 * math.log10(2) / math.sqrt(2))
    assert level["band_hz"] == [1000.0, 3900.0]
    silent = next(row for row in document["levels"] if row["id"] == "silent")
    assert (silent["mean"], silent["spread_db"], silent["values"]) == (None, None, [None, None])
    (family,) = document["families"]
    assert family == {
        "bearing": "upper", "element": "outer-ring", "order": 7.112,
        "depth_whitened": pytest.approx(0.04),
    }  # fmt: skip
    assert [row["name"] for row in document["recordings"]] == ["24h/1.wav", "24h/2.wav"]
    assert document["recordings"][0]["moment"] == "24h"
    assert document["made_at"] == "2031-03-06T08:00:00+00:00"


def test_names_stay_as_they_are_in_the_values() -> None:
    assert json.loads(dumps(baseline_dict(hostile())))["machine_id"] == CONTROL
