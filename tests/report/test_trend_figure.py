"""What stands in the picture of a trend, on an INVENTED one: no number here was measured."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.container import ErrorbarContainer

from vibhealth.model import Element, Trend, TrendPoint
from vibhealth.model.outlook import CrossingRange, TrendStep
from vibhealth.report._style import drawing_style, new_figure
from vibhealth.report.trend_figure import draw_trend, trend_image

START = datetime(2031, 1, 6, 8, tzinfo=UTC)


def visit(k: int, **changes: object) -> TrendPoint:
    facts: dict[str, object] = {
        "at": START + timedelta(days=10 * k), "running_hours_h": 900.0 + 200 * k,
        "value": 0.05 * 1.3**k, "low": 0.04 * 1.3**k, "high": 0.07 * 1.3**k, "n_recordings": 2,
    }  # fmt: skip
    return TrendPoint(**facts | changes)  # type: ignore[arg-type]


def trend(**changes: object) -> Trend:
    points = tuple(visit(k, left_out_because="load loaded" if k == 3 else "") for k in range(8))
    facts: dict[str, object] = {
        "quantity": "depth-whitened", "title": "outer ring of bearing upper, modulation depth",
        "unit": "1", "point": "P1X", "bearing": "upper", "element": Element.OUTER_RING,
        "points": points, "watch_level": 0.15, "action_level": 0.3, "action_source": "INVENTED",
        "steps": (TrendStep(at=START + timedelta(days=25), before=0.2, after=0.1, ratio=0.5,
                            ratio_interval=None),),
        "course": "rising", "slope_per_day": 0.026, "slope_interval": (0.02, 0.03),
        "sentence": "rising", "state": "empty",
        "crossing": CrossingRange(earliest=date(2031, 4, 2), latest=date(2031, 4, 20),
                                  withheld_because=""),
        "fit": tuple((p.at, p.value) for p in points[4:]),
    }  # fmt: skip
    return Trend(**facts | changes)  # type: ignore[arg-type]


@pytest.fixture
def axis() -> Iterator[Axes]:
    with drawing_style():
        yield new_figure(9.5, 4.4).add_subplot()


def day_number(at: datetime) -> float:
    """Days since 1970, as the axis counts them."""
    return (at.replace(tzinfo=UTC) - datetime(1970, 1, 1, tzinfo=UTC)) / timedelta(days=1)


def line_at(axis: Axes, marker: str) -> np.ndarray:
    (line,) = [one for one in axis.lines if one.get_marker() == marker]
    return np.asarray(line.get_xydata(), dtype=float)


def labels(axis: Axes) -> list[str]:
    legend = axis.get_legend()
    return [] if legend is None else [text.get_text() for text in legend.get_texts()]


def test_visits_stand_at_their_days_with_their_ranges(axis: Axes) -> None:
    drawn = trend()
    draw_trend(axis, drawn)
    used = [p for p in drawn.points if not p.left_out_because]
    places = line_at(axis, "o")
    assert places[:, 1] == pytest.approx([p.value for p in used])
    assert places[:, 0] == pytest.approx([day_number(p.at) for p in used])
    (bars,) = [c for c in axis.containers if isinstance(c, ErrorbarContainer)]
    ends = np.array([segment[:, 1] for segment in bars.lines[2][0].get_segments()])
    assert ends == pytest.approx(np.array([[p.low, p.high] for p in used], dtype=float))


def test_what_was_left_out_has_another_marker_and_no_range(axis: Axes) -> None:
    drawn = trend()
    draw_trend(axis, drawn)
    assert line_at(axis, "x")[:, 1] == pytest.approx([drawn.points[3].value])
    assert "another state, left out" in labels(axis)


def test_levels_course_rebuild_and_range_are_named(axis: Axes) -> None:
    draw_trend(axis, trend())
    said = " ".join(labels(axis))
    for words in (
        "action level", "watch level", "visit, with its range", "course that fits best",
        "02 Apr 2031 to 20 Apr 2031",
    ):  # fmt: skip
        assert words in said
    levels = {line.get_ydata()[0] for line in axis.lines if line.get_label() == "action level"}  # type: ignore[index]
    assert levels == {0.3}
    assert [note.get_text() for note in axis.texts] == ["rebuild"]
    span = next(patch for patch in axis.patches if "80 of 100" in str(patch.get_label()))
    box = span.get_path().get_extents(span.get_patch_transform())
    assert (box.x0, box.x1) == pytest.approx(
        (day_number(datetime(2031, 4, 2)), day_number(datetime(2031, 4, 20)))  # noqa: DTZ001
    )


def test_withheld_dates_draw_no_range(axis: Axes) -> None:
    none = CrossingRange(earliest=None, latest=None, withheld_because="not enough history")
    draw_trend(axis, trend(crossing=none, fit=()))
    assert not any("80 of 100" in text for text in labels(axis))
    assert not axis.patches


def test_a_rebuild_long_before_the_first_visit_is_not_drawn(axis: Axes) -> None:
    early = TrendStep(at=START - timedelta(days=400), before=None, after=None, ratio=None,
                      ratio_interval=None)  # fmt: skip
    draw_trend(axis, trend(steps=(early,)))
    assert not axis.texts


def test_over_hours_rebuild_and_range_stand_where_the_counter_will_be(axis: Axes) -> None:
    """Every 10 days 200 h: the rebuild of day 25 is at 1400 h, 2 Apr (day 85.67) at 2613 h."""
    draw_trend(axis, trend(), over="hours")
    assert axis.get_xlabel().startswith("running hours")
    assert line_at(axis, "o")[:, 0] == pytest.approx([900, 1100, 1300, 1700, 1900, 2100, 2300])
    assert [note.xy[0] for note in axis.texts] == pytest.approx([1400.0])  # type: ignore[attr-defined]
    span = next(patch for patch in axis.patches if "80 of 100" in str(patch.get_label()))
    box = span.get_path().get_extents(span.get_patch_transform())
    assert box.x0 == pytest.approx(900 + 20 * (86 - 1 / 3), abs=1.0)
    assert box.x1 > box.x0


def test_without_a_counter_at_every_visit_dates_are_drawn(axis: Axes) -> None:
    points = (*trend().points[:-1], visit(7, running_hours_h=None))
    draw_trend(axis, trend(points=points), over="hours")
    assert "running hours" not in axis.get_xlabel()
    assert axis.get_xlabel().startswith("no hour counter at every visit")


def test_the_same_trend_gives_the_same_bytes() -> None:
    assert trend_image(trend()).png == trend_image(trend()).png
    assert trend_image(trend()).png != trend_image(replace(trend(), action_level=0.4)).png


def test_names_of_files_are_safe() -> None:
    image = trend_image(trend(bearing="drive side/A", point="P 1"))
    assert image.name == "trend-P_1-depth-drive_side_A-outer-ring"
