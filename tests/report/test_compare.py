"""A comparison in words, plain values, tables, pages and figures, of sides written down here."""

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Literal

import jsonschema
import numpy as np
import pytest

from tests.report.test_baseline_text import CONTROL, SHOWN, baseline, reading, source, spectrum
from tests.report.test_html import Page
from vibhealth.baseline import (
    Baseline,
    Comparison,
    ConditionLimits,
    Conditions,
    FamilyStatistic,
    LineSettings,
    Range,
    Scalar,
    Side,
    SpectrumStatistic,
    compare_sides,
)
from vibhealth.errors import InputError
from vibhealth.model import BearingGeometry, Element, LoadCase, Ring, RollingBearing
from vibhealth.report import (
    CompareView,
    compare_csv,
    compare_dict,
    compare_html,
    compare_images,
    compare_text,
    compare_view,
    dumps,
    schema,
)

HOSTILE = "<script>alert(1)</script>&'\".wav"
LIMITS = ConditionLimits(
    speed_watch_percent=2.0,
    speed_hold_percent=10.0,
    temperature_watch_c=10.0,
    temperature_hold_c=20.0,
)
SETTINGS = LineSettings(
    stated_db=6.0, least_db=3.0, false_alarm_probability=0.001, slip_percent=1.5
)
# 17 / 2 (1 - 26 / 160), and the rings of deck feeder F3.
OUTER_RING = 7.11875
UPPER = RollingBearing(
    name="upper",
    geometry=BearingGeometry(
        element_count=17, element_diameter_mm=26.0, pitch_diameter_mm=160.0, contact_angle_deg=0.0
    ),
    element_count=17,
    rotating_ring=Ring.INNER,
    load_case=LoadCase.ROTATING,
)


def lines_at(*orders: float, db: float = 20.0, **changes: Any) -> SpectrumStatistic:
    """The flat spectrum with lines of one size at some orders of its grid."""
    flat = spectrum(**changes)
    above = flat.above_floor_db.copy()
    for order in orders:
        above[int(np.argmin(np.abs(flat.order - order)))] = db
    return replace(flat, amplitude=flat.amplitude * 10 ** (above / 20), above_floor_db=above)


def side(
    name: str = "good.wav",
    kind: Literal["recording", "baseline", "signature"] = "recording",
    readings: Baseline | None = None,
    **changes: Any,
) -> Side:
    """One side; what is given changes its baseline."""
    known = readings or baseline(digest="", recordings=(source(1),))
    return Side(label=name, kind=kind, readings=replace(known, **changes))


def compared(*sides: Side) -> Comparison:
    return compare_sides(sides, conditions=LIMITS, settings=SETTINGS)


def view_of(comparison: Comparison, **changes: Any) -> CompareView:
    known: dict[str, Any] = {"point": "P1X", "machine": "Deck feeder F3"}
    return compare_view(comparison, bearings=[UPPER], slip_percent=1.5, **known | changes)


def page_of(*views: CompareView, images: Sequence[Sequence[Any]] | None = None) -> str:
    return compare_html(
        views, images or [()] * len(views), generated_at="2031-03-06 12:00 UTC", version="1.2.3"
    )


def rows_of(text: str) -> list[dict[str, str]]:
    """Rows of a CSV table by column."""
    return list(csv.DictReader(io.StringIO(text)))


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture(scope="module")
def spalled() -> Comparison:
    """A: good. B: three harmonics of the outer ring. C: a baseline as A, at another speed."""
    turned = Conditions(
        shaft_frequency_hz=Range(low=16.35 * 1.05, high=16.35 * 1.05),
        sampling_rate_hz=25600.0,
        unit="m/s2",
        load="loaded",
    )
    family = FamilyStatistic(
        bearing="upper",
        element=Element.OUTER_RING,
        readings=(reading(1, depth_whitened=0.4, false_alarm_probability=1e-9),),
    )
    return compared(
        side(),
        side(
            "spalled.wav",
            spectra=(lines_at(OUTER_RING, 2 * OUTER_RING, 3 * OUTER_RING),),
            families=(family,),
        ),
        side("F3, P1X, version 3", "baseline", baseline(), conditions=turned),
    )


@pytest.fixture(scope="module")
def view(spalled: Comparison) -> CompareView:
    return view_of(spalled)


@pytest.fixture(scope="module")
def images(spalled: Comparison) -> Sequence[Any]:
    return compare_images(spalled, "P1X")


# --- words ------------------------------------------------------------------------------------


def test_lines_of_a_defect_are_told_with_what_they_fit(view: CompareView) -> None:
    told: list[Any] = [
        (line.letter, line.spectrum, float(line.order), line.fits) for line in view.lines
    ]
    assert sorted(told) == [
        ("B", "envelope", pytest.approx(7.12), "the outer ring of bearing upper"),
        ("B", "envelope", pytest.approx(14.24), "2x the outer ring of bearing upper"),
        ("B", "envelope", pytest.approx(21.36), "3x the outer ring of bearing upper"),
    ]
    for line in view.lines:
        assert (line.above, line.allowed, line.size) == ("+20 dB", "6 dB", "depth 0.1")
        assert line.frequency == f"{float(line.order) * 16.35:.1f} Hz"


def test_a_line_that_nothing_explains_says_so() -> None:
    (line,) = view_of(compared(side(), side("b", spectra=(lines_at(4.26),)))).lines
    assert line.fits == "no known family"
    (line,) = view_of(compared(side(), side("b", spectra=(lines_at(3.5),)))).lines
    assert line.fits == "3.5x the shaft speed"


def test_the_farthest_lines_are_told_and_the_others_counted() -> None:
    weak = lines_at(*np.arange(4.26, 25.0, 1.0), db=12.0)
    above = weak.above_floor_db.copy()
    above[int(np.argmin(np.abs(weak.order - 23.26)))] = 30.0
    strong = replace(weak, above_floor_db=above, amplitude=0.01 * 10 ** (above / 20))
    found = view_of(compared(side(), side("b", spectra=(strong,))))
    assert len(found.lines) == 12
    assert found.more_lines == 21 - 12
    assert (found.lines[0].order, found.lines[0].above) == ("23.26", "+30 dB")
    assert "and 9 more" in compare_text(found)
    assert "And 9 more" in page_of(found)


def test_families_in_the_noise_are_marked(view: CompareView) -> None:
    (row,) = view.families
    assert row.title == "Outer ring of bearing upper"
    assert row.values == ("0.04 (noise)", "0.40", "0.04 (noise)")
    assert row.differences == ("+20.0 dB", "0.0 dB")  # 20 log10(0.4 / 0.04)


def test_conditions_that_differ_are_told_by_letter(view: CompareView) -> None:
    told = {row.sentence.split()[0]: (row.letter, row.mark.word) for row in view.conditions}
    assert told == {"1030.1": ("C", "WATCH"), "load": ("C", "NOT JUDGED")}


def test_the_state_of_a_side_is_in_its_row(view: CompareView) -> None:
    a, _, c = view.sides
    assert (a.letter, a.name, a.kind) == ("A", "good.wav", "recording")
    assert a.state == "981.0 r/min, 51 °C, empty, x, A1 (serial 17), stud, 25600 Hz"
    assert c.state == "1030.1 r/min, loaded, 25600 Hz, 2 recordings"


def test_accelerations_of_a_stroke_go_with_the_square_of_the_speed() -> None:
    def at(shaft_hz: float, amplitude: float, rms: float) -> Side:
        conditions = Conditions(
            shaft_frequency_hz=Range(low=shaft_hz, high=shaft_hz),
            sampling_rate_hz=25600.0,
            unit="m/s2",
        )
        scalars = (
            Scalar(id="first-order", title="amplitude of 1x", unit="m/s2", values=(amplitude,)),
            Scalar(id="rms", title="rms, whole recording", unit="m/s2", values=(rms,)),
        )
        return side(conditions=conditions, scalars=scalars)

    found = view_of(compared(at(16.0, 30.0, 20.0), at(17.6, 30.0 * 1.1**2, 20.0 * 1.1**2)))
    first, rms = found.values
    assert first.title == "amplitude of 1x, speed taken out"
    assert first.differences == ("0.0 dB",)
    assert rms.title == "rms, whole recording"
    assert rms.differences == ("+1.7 dB",)  # 40 log10(1.1)


def test_levels_of_different_bands_are_shown_and_not_compared() -> None:
    def with_band(top_hz: float) -> Side:
        level = Scalar(
            id="l", title="a level", unit="m/s2", values=(1.0,), band_hz=(1000.0, top_hz)
        )
        return side(scalars=(level,))

    (row,) = view_of(compared(with_band(3900.0), with_band(10000.0))).values
    assert row.values == ("1 m/s²", "1 m/s²")
    assert row.differences == ("",)
    (row,) = view_of(compared(with_band(3900.0), with_band(3901.0))).values
    assert row.differences == ("0.0 dB",)


def test_what_a_side_lacks_is_left_blank() -> None:
    comparison = compared(side(scalars=(), families=()), side("b"))
    found = view_of(comparison)
    assert {row.values[0] for row in (*found.values, *found.families)} == {""}
    assert {row.differences for row in (*found.values, *found.families)} == {("",)}
    assert "None" not in compare_text(found, details=True)
    assert "None" not in "".join(Page(page_of(found)).words).replace("None beyond", "")


def test_a_spectrum_that_a_side_lacks_is_named() -> None:
    found = view_of(compared(side(), side("bare.wav", spectra=())))
    assert "not compared: bare.wav has no envelope spectrum" in found.not_compared
    assert "? not compared: bare.wav has no envelope spectrum" in compare_text(found)
    assert "bare.wav has no envelope spectrum" in page_of(found)


def test_spectra_of_other_bands_are_not_compared() -> None:
    other = spectrum(band_hz=(1000.0, 10000.0))
    found = view_of(compared(side(), side("wide.wav", spectra=(other,))))
    assert found.lines == ()
    assert any("wide.wav was read in another band or unit" in text for text in found.not_compared)


def test_invented_sides_are_labelled() -> None:
    real = view_of(compared(side(), side("b")))
    assert real.label == ""
    assert "INVENTED" not in compare_text(real) + page_of(real)
    invented = view_of(compared(side(), side("b", label="INVENTED: made by simulation")))
    assert compare_text(invented).splitlines()[1].startswith("INVENTED")
    assert "<strong>INVENTED" in page_of(invented)


# --- text -------------------------------------------------------------------------------------


def test_text_and_page_say_the_same(view: CompareView) -> None:
    text = flat(compare_text(view, width=200, details=True))
    page = flat(" ".join(Page(page_of(view)).words))
    for line in view.lines:
        for words in (line.order, line.frequency, line.above, line.allowed, line.size, line.fits):
            assert words in text
            assert words in page
    for row in (*view.values, *view.families):
        for words in (row.title, *row.values, *row.differences):
            assert words in text
            assert words in page
    for state in view.sides:
        assert f"{state.letter} {state.name} ({state.kind}): {state.state}" in text
        assert state.state in page
    for condition in view.conditions:
        assert f"{condition.mark.symbol} {condition.letter}: {condition.sentence}" in text
        assert condition.sentence in page


@pytest.mark.parametrize("width", [40, 60, 100, 120])
def test_the_text_keeps_to_the_width(view: CompareView, width: int) -> None:
    long = replace(view, machine="deck " * 30, not_compared=("not compared: " * 20,))
    for item in (view, long):
        text = compare_text(item, width=width, details=True)
        assert max(map(len, text.splitlines())) <= width
        assert not any(line != line.rstrip() for line in text.splitlines())


def test_less_than_forty_columns_are_refused(view: CompareView) -> None:
    with pytest.raises(InputError, match="at least 40"):
        compare_text(view, width=39)


def test_details_are_asked_for(view: CompareView) -> None:
    more = replace(view, values=(*view.values, replace(view.values[0], title="kurtosis")))
    assert "kurtosis" not in compare_text(more)
    assert "kurtosis" in compare_text(more, details=True)
    assert "kurtosis" in page_of(more)


def test_colour_is_an_addition(view: CompareView) -> None:
    assert "\x1b" not in compare_text(view)
    assert "\x1b[" in compare_text(view, color=True)


# --- names from outside -----------------------------------------------------------------------


def test_names_do_nothing_to_a_terminal() -> None:
    named = baseline(digest="", recordings=(source(1),), spectra=())
    family = replace(named.families[0], bearing=CONTROL)
    level = replace(named.scalars[0], title=f"rms, {CONTROL}")
    conditions = replace(named.conditions, load=CONTROL, sensor=CONTROL, mount=CONTROL)
    readings = replace(named, families=(family,), scalars=(level,), conditions=conditions)
    comparison = compared(side(CONTROL, readings=readings), side(CONTROL, readings=readings))
    found = view_of(comparison, point=CONTROL, machine=CONTROL)
    for text in (compare_text(found, width=400, details=True), page_of(found)):
        assert "\x1b" not in text
        assert "\u202e" not in text
        assert text.count(SHOWN) >= 13


def test_names_are_text_in_the_page() -> None:
    named = baseline(digest="", recordings=(source(1),), spectra=())
    family = replace(named.families[0], bearing=HOSTILE)
    level = replace(named.scalars[0], title=HOSTILE)
    conditions = replace(named.conditions, load=HOSTILE, sensor=HOSTILE)
    readings = replace(named, families=(family,), scalars=(level,), conditions=conditions)
    comparison = compared(side(HOSTILE, readings=readings), side(HOSTILE, spectra=()))
    page = Page(page_of(view_of(comparison, point=HOSTILE, machine=HOSTILE)))
    assert page.named("script") == []
    assert "".join(page.words).count(HOSTILE) >= 10
    assert f"Point {HOSTILE}" in [tag.get("aria-label") for tag in page.named("section")]


# --- plain values and tables ------------------------------------------------------------------


def test_the_values_keep_the_schema(view: CompareView, spalled: Comparison) -> None:
    document = {
        "schema_version": 1,
        "tool": {"name": "vibhealth", "version": "1"},
        "machine": {"id": "F3", "name": "Deck feeder F3"},
        "comparisons": [compare_dict(view, spalled)],
    }
    plain = json.loads(dumps(document))
    jsonschema.validate(plain, schema("comparison"))
    (found,) = plain["comparisons"]
    assert [item["letter"] for item in found["sides"]] == ["A", "B", "C"]
    assert [item["digest"] for item in found["sides"]] == [None, None, "d" * 64]
    assert [len(item["recordings"]) for item in found["sides"]] == [1, 1, 2]
    assert {line["side"] for line in found["raised_lines"]} == {"B"}
    assert all(line["difference_db"] == pytest.approx(20) for line in found["raised_lines"])
    assert found["families"][0]["significant"] == [False, True, False]
    results = {(item["side"], item["id"]): item["result"] for item in found["conditions"]}
    assert results["C", "load"] == "not-judged"
    assert results["B", "load"] == "pass"


def test_a_name_with_commas_and_quotes_survives_the_table() -> None:
    odd = 'a "b", c\nd'
    known = baseline(digest="")
    changes: dict[str, Any] = {
        "families": (replace(known.families[0], bearing=odd),),
        "scalars": (replace(known.scalars[0], title=odd),),
    }
    tables = compare_csv(compared(side(**changes), side("b", **changes)))
    assert [row["bearing"] for row in rows_of(tables["families.csv"])] == [odd]
    assert [row["title"] for row in rows_of(tables["values.csv"])] == [odd]


def test_tables_hold_the_numbers_of_the_comparison(spalled: Comparison) -> None:
    tables = compare_csv(spalled)
    assert tables.keys() == {
        "values.csv", "families.csv", "envelope-spectrum-B.csv", "envelope-spectrum-C.csv",
    }  # fmt: skip
    for text in tables.values():
        rows = list(csv.reader(io.StringIO(text)))
        assert {len(row) for row in rows} == {len(rows[0])}
        assert len(set(rows[0])) == len(rows[0])
        assert "nan" not in text
    table = rows_of(tables["envelope-spectrum-B.csv"])
    assert len(table) == spectrum().order.size
    (line,) = [row for row in table if row["order"] == "7.12"]
    numbers = {key: float(value) for key, value in line.items()}
    assert list(numbers) == ["order", "depth_B", "depth_A", "difference_db", "allowed_db"]
    assert list(numbers.values()) == pytest.approx([7.12, 0.1, 0.01, 20, 6])
    values = {row["id"]: row for row in rows_of(tables["values.csv"])}
    assert [values["stroke-mm"][key] for key in ("unit", "A", "B", "C")] == ["mm", "6", "6", "6"]
    assert [values["silent"][key] for key in ("A", "B_over_A_db")] == ["", ""]


def test_amplitudes_have_their_unit_in_the_head() -> None:
    motion = spectrum(kind="order-spectrum", unit="m/s2", band_hz=None)
    counts = spectrum(kind="order-spectrum", unit="counts", band_hz=None)
    for item, head in ((motion, "amplitude_m_s2_B"), (counts, "amplitude_counts_B")):
        tables = compare_csv(compared(side(spectra=(item,)), side("b", spectra=(item,))))
        assert head in tables["order-spectrum-B.csv"].splitlines()[0].split(",")


# --- page and figures -------------------------------------------------------------------------


def test_a_page_holds_every_point_and_every_figure(
    view: CompareView, images: Sequence[Any]
) -> None:
    other = replace(view, point="P1Y")
    text = page_of(view, other, images=[images, ()])
    page = Page(text)
    sections = [tag["aria-label"] for tag in page.named("section")]
    assert sections == ["Point P1X", "Point P1Y"]
    assert [tag["alt"] for tag in page.named("img")] == [image.alt for image in images]
    assert all((tag["src"] or "").startswith("data:image/png") for tag in page.named("img"))
    assert "http" not in text.replace("http-equiv", "")
    assert "2031-03-06 12:00 UTC" in text
    assert text == page_of(view, other, images=[images, ()])


def test_accessible_bones(view: CompareView) -> None:
    page = Page(page_of(view))
    assert page.named("html") == [{"lang": "en"}]
    assert page.named("title")
    assert page.named("main")
    assert all(cell.get("scope") for cell in page.named("th"))


def test_figures_are_those_of_shared_spectra_and_half_octaves(images: Sequence[Any]) -> None:
    assert [image.name for image in images] == [
        "compare-P1X-envelope-spectrum",
        "compare-P1X-half-octaves",
    ]
    for image in images:
        assert image.png.startswith(b"\x89PNG")
        assert image.title.endswith("P1X")
    assert "3 lines stand beyond what is allowed" in images[0].alt
    assert "of 3 sides" in images[0].alt
    assert images[0].caption.startswith("Band ")


def test_the_same_figures_twice(spalled: Comparison, images: Sequence[Any]) -> None:
    assert compare_images(spalled, "P1X") == tuple(images)


def test_no_figure_of_what_is_not_shared() -> None:
    nothing = np.array([], dtype=np.float64)
    signature = side(
        "signature", "signature", spectra=(), bands_db=nothing, bands_centre_hz=nothing
    )
    assert compare_images(compared(side(), signature), "P1X") == ()


def test_a_figure_is_named_by_plain_signs_only() -> None:
    comparison = compared(side(spectra=()), side("b", spectra=()))
    (image,) = compare_images(comparison, "../Süd seite:1")
    assert image.name == "compare----S-d-seite-1-half-octaves"
    assert image.title == "Half octaves, ../Süd seite:1"


def test_more_sides_than_colours_are_drawn() -> None:
    nothing = np.array([], dtype=np.float64)
    seven = [side(f"{n}.wav", bands_db=nothing, bands_centre_hz=nothing) for n in range(7)]
    (image,) = compare_images(compared(*seven), "P1X")
    assert "of 7 sides" in image.alt
