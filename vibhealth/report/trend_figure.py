"""A trend as a picture: visits with their ranges, rebuilds, levels, course and range of dates."""

from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any, Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter
from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

from vibhealth.model import Trend, TrendPoint
from vibhealth.report._style import drawing_style, figure_bytes, new_figure
from vibhealth.report._wording import unit_text
from vibhealth.report.images import FigureImage

__all__ = ["draw_trend", "trend_image"]

Place = Callable[[datetime | date], Any]
EPOCH = datetime(2000, 1, 1)  # noqa: DTZ001 - naive, like the times on the axis
ROOM_BEFORE = timedelta(days=30)
USED, OUT, ACT, EARLY, RANGE = "#0072B2", "#666666", "#D55E00", "#7a4b00", "#CC79A7"


def trend_image(trend: Trend, *, over: Literal["dates", "hours"] = "dates") -> FigureImage:
    """One trend as a PNG with caption and words for those who cannot see it.

    Parameters
    ----------
    trend : Trend
        As `level_trend` and `family_trend` give it.
    over : {"dates", "hours"}
        Axis. Hours need the hour counter at every visit; dates are drawn where one lacks.

    Returns
    -------
    FigureImage
    """
    with drawing_style():
        figure = new_figure(9.5, 4.4)
        draw_trend(figure.add_subplot(), trend, over=over)
    part = "" if trend.element is None else f"-{trend.bearing}-{trend.element.value}"
    name = f"trend-{trend.point}-{'level' if trend.element is None else 'depth'}{part}"
    return FigureImage(
        name="".join(c if c.isalnum() or c in "-_." else "_" for c in name),
        title=f"Point {trend.point}: {trend.title}",
        caption=f"{trend.sentence}. State: {trend.state}.",
        alt=f"Trend of {len(trend.points)} visits. {trend.sentence}.",
        png=figure_bytes(figure, "png"),
    )


def draw_trend(axis: Axes, trend: Trend, *, over: Literal["dates", "hours"] = "dates") -> None:
    """Draw a trend on an axis; colour always comes with a marker, a line style or a label."""
    noted = {p.at: p.running_hours_h for p in trend.points if p.running_hours_h is not None}
    by_hours = over == "hours" and len(noted) == len(trend.points) and len(noted) > 1
    place = _counter(noted) if by_hours else _number
    out = [p for p in trend.points if p.left_out_because]
    axis.set_title(f"Point {trend.point}: {trend.title}")
    _log_axis(axis)
    axis.set_ylabel("depth" if trend.unit == "1" else unit_text(trend.unit))
    _visits(axis, [p for p in trend.points if not p.left_out_because], place)
    if out:
        axis.plot(
            [place(p.at) for p in out], [p.value for p in out], linestyle="none",
            marker="x", color=OUT, label="another state, left out",
        )  # fmt: skip
    _levels(axis, trend)
    _rebuilds(axis, trend, place)
    _course_and_dates(axis, trend, place)
    _time_axis(axis, over, by_hours=by_hours)
    if trend.points:
        axis.legend(
            loc="upper center", bbox_to_anchor=(0.5, -0.16), ncols=3, fontsize=9, borderaxespad=0.0
        )


def _log_axis(axis: Axes) -> None:
    """Logarithmic, with plain numbers: the drawing style reads no mathematics."""
    axis.set_yscale("log")
    axis.yaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
    axis.yaxis.set_major_formatter(FuncFormatter(lambda value, _place: f"{value:g}"))
    axis.yaxis.set_minor_formatter(NullFormatter())


def _time_axis(axis: Axes, over: Literal["dates", "hours"], *, by_hours: bool) -> None:
    if by_hours:
        axis.set_xlabel("running hours; between and after visits at the usual pace")
        return
    if over == "hours":
        axis.set_xlabel("no hour counter at every visit: dates instead")
    locator = AutoDateLocator()  # type: ignore[no-untyped-call]
    axis.xaxis.set_major_locator(locator)
    axis.xaxis.set_major_formatter(
        ConciseDateFormatter(locator)  # type: ignore[no-untyped-call]
    )


def _visits(axis: Axes, used: Sequence[TrendPoint], place: Place) -> None:
    if not used:
        return
    below = [p.value - (p.low if p.low is not None else p.value) for p in used]
    above = [(p.high if p.high is not None else p.value) - p.value for p in used]
    axis.errorbar(
        [place(p.at) for p in used],
        [p.value for p in used],
        yerr=[[max(b, 0.0) for b in below], [max(a, 0.0) for a in above]],
        fmt="o", markersize=4, elinewidth=0.8, capsize=2, color=USED, label="visit, with its range",
    )  # fmt: skip


def _levels(axis: Axes, trend: Trend) -> None:
    rows = (
        ("action level", trend.action_level, ACT, "-"),
        ("watch level", trend.watch_level, EARLY, "--"),
    )
    for words, value, colour, style in rows:
        if value is not None:
            axis.axhline(value, color=colour, linestyle=style, linewidth=1.2, label=words)


def _rebuilds(axis: Axes, trend: Trend, place: Place) -> None:
    first_visit = min((p.at for p in trend.points), default=None)
    for step in trend.steps:
        if first_visit is not None and step.at < first_visit - ROOM_BEFORE:
            continue  # long before the first visit: it would only squeeze the others
        axis.axvline(place(step.at), color="#000000", linestyle=":", linewidth=1.2)
        axis.annotate(
            "rebuild", (place(step.at), 0.02), xycoords=("data", "axes fraction"), rotation=90,
            fontsize=8, ha="right", va="bottom", bbox={"facecolor": "white", "edgecolor": "none", "pad": 1},
        )  # fmt: skip


def _course_and_dates(axis: Axes, trend: Trend, place: Place) -> None:
    if trend.fit:
        axis.plot(
            [place(at) for at, _ in trend.fit], [value for _, value in trend.fit],
            color="#000000", linewidth=1.0, label="course that fits best",
        )  # fmt: skip
    first, last = trend.crossing.earliest, trend.crossing.latest
    if first is not None and last is not None:
        axis.axvspan(
            place(first), place(last), color=RANGE, alpha=0.3, hatch="//",
            label=f"reaches its action level (80 of 100):\n{first:%d %b %Y} to {last:%d %b %Y}",
        )  # fmt: skip


def _number(at: datetime | date) -> Any:
    """Naive UTC for the axis: matplotlib's own dates."""
    if isinstance(at, datetime):
        return at.replace(tzinfo=None)
    return datetime.combine(at, time())


def _days(at: datetime | date) -> float:
    return (_number(at) - EPOCH) / timedelta(days=1)  # type: ignore[no-any-return]


def _counter(noted: Mapping[datetime, float]) -> Place:
    """Hour counter at a time: between visits in proportion, beyond them at the mean pace."""
    days, hours = (
        np.array(row) for row in zip(*((_days(at), noted[at]) for at in sorted(noted)), strict=True)
    )
    pace = (hours[-1] - hours[0]) / max(days[-1] - days[0], 1e-9)

    def place(at: datetime | date) -> float:
        day = _days(at)
        beyond = min(day - days[0], 0.0) + max(day - days[-1], 0.0)
        return float(np.interp(day, days, hours) + pace * beyond)

    return place
