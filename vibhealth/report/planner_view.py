"""The planner's page as sections with every number rounded and worded; for text, HTML and PDF."""

from collections.abc import Sequence
from dataclasses import dataclass

from vibhealth.model import BearingLife, Outlook, Sign, Trend
from vibhealth.outlook.plan_basis import hours_in_words
from vibhealth.report._wording import unit_text
from vibhealth.report.sparkline import sparkline

__all__ = ["PageSection", "PlannerPage", "by_urgency", "fleet_page", "planner_page", "trend_page"]

SIGN_WORDS = {
    Sign.STOP: "STOP SOON",
    Sign.CLEAR: "CLEAR SIGN",
    Sign.EARLY: "EARLY SIGN",
    Sign.NOT_KNOWN: "NOT KNOWN",
    Sign.NONE: "NO SIGN YET",
}
URGENCY = tuple(SIGN_WORDS)
TONES = {
    Sign.STOP: "hold",
    Sign.CLEAR: "hold",
    Sign.EARLY: "watch",
    Sign.NOT_KNOWN: "not-judged",
    Sign.NONE: "pass",
}
MOST_VISITS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class PageSection:
    """A titled part: sentences, a list, a table; boxed where it stands apart.

    An annex is for the file that is kept, not for the terminal.
    """

    title: str
    paragraphs: tuple[str, ...] = ()
    items: tuple[str, ...] = ()
    headers: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    is_boxed: bool = False
    is_annex: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannerPage:
    """One page: title, the answer (word, tone, sentence), sections, foot."""

    title: str
    subtitle: str
    word: str
    tone: str
    headline: str
    sections: tuple[PageSection, ...]
    foot: str


def by_urgency(outlooks: Sequence[Outlook]) -> tuple[Outlook, ...]:
    """Most urgent first: the sign, then the earliest date, then the risk, then the name."""

    def key(outlook: Outlook) -> tuple[int, str, float, str]:
        dates = [t.crossing.earliest for t in outlook.trends if t.crossing.earliest is not None]
        first = min(dates).isoformat() if dates else "9999"
        risk = outlook.windows[0].probability_before if outlook.windows else None
        return URGENCY.index(outlook.sign), first, -(risk or 0.0), outlook.machine

    return tuple(sorted(outlooks, key=key))


def planner_page(outlook: Outlook, *, generated_at: str, version: str) -> PlannerPage:
    """The page of one machine.

    Parameters
    ----------
    outlook : Outlook
        As `machine_outlook` gives it.
    generated_at, version : str
        For the foot.

    Returns
    -------
    PlannerPage
    """
    sections = (
        PageSection(title="Why", items=outlook.reasons or ("no reading stands out",)),
        _windows(outlook),
        PageSection(title="Spare (apart from the rebuild)", paragraphs=(outlook.spare.sentence,),
                    is_boxed=True),
        PageSection(title="Next recording", paragraphs=(outlook.next_recording_sentence,)),
        PageSection(title="What would change this answer", items=outlook.would_change),
        PageSection(title="Evidence", items=outlook.evidence or ("no recording in the history",)),
        _life(outlook),
        PageSection(title="How long units last", paragraphs=(f"{outlook.basis.sentence}.",)),
        PageSection(title="Safety", items=outlook.cautions, is_boxed=True),
        *_life_annex(outlook),
        *_limits_annex(outlook),
    )  # fmt: skip
    return PlannerPage(
        title=f"Outlook: {outlook.name} ({outlook.machine})",
        subtitle=f"as of {outlook.as_of:%d %b %Y}; dates are ranges, never hours left",
        word=SIGN_WORDS[outlook.sign],
        tone=TONES[outlook.sign],
        headline=_answer(outlook),
        sections=sections,
        foot=f"vibhealth {version}, {generated_at}",
    )


def fleet_page(outlooks: Sequence[Outlook], *, generated_at: str, version: str) -> PlannerPage:
    """Several machines in one list, the most urgent first."""
    ordered = by_urgency(outlooks)
    worst = ordered[0]
    rows = tuple(
        (
            item.machine,
            SIGN_WORDS[item.sign],
            _answer(item),
            "-" if item.chosen_window is None else f"{item.chosen_window:%d %b %Y}",
            f"{item.spare.order_by:%d %b %Y}" if item.spare.order_by else "-",
            f"{item.next_recording:%d %b %Y}" if item.next_recording else "-",
        )
        for item in ordered
    )
    headers = ("machine", "sign", "answer", "window", "order spare by", "record by")
    return PlannerPage(
        title=f"Outlook of {len(ordered)} machines",
        subtitle=f"as of {worst.as_of:%d %b %Y}; most urgent first",
        word=SIGN_WORDS[worst.sign],
        tone=TONES[worst.sign],
        headline=f"{worst.machine}: {_answer(worst)}",
        sections=(
            PageSection(title="Machines", headers=headers, rows=rows),
            PageSection(title="Safety", items=worst.cautions, is_boxed=True),
        ),
        foot=f"vibhealth {version}, {generated_at}",
    )


def _answer(outlook: Outlook) -> str:
    """The headline without the sign, which stands beside it in larger letters."""
    word = SIGN_WORDS[outlook.sign]
    if not outlook.headline.upper().startswith(word):
        return outlook.headline
    rest = outlook.headline[len(word) :].lstrip(":, ")
    return rest[:1].upper() + rest[1:]


def trend_page(
    machine: str, trends: Sequence[Trend], *, generated_at: str, version: str
) -> PlannerPage:
    """Trends of one machine as tables of visits."""
    return PlannerPage(
        title=f"Trend: {machine}",
        subtitle="same state only; ranges hold 80 of 100",
        word="",
        tone="pass",
        headline="" if trends else "no recording with a date and a point of the card",
        sections=tuple(_trend_section(trend) for trend in trends),
        foot=f"vibhealth {version}, {generated_at}",
    )


def _trend_section(trend: Trend) -> PageSection:
    line = sparkline([None if p.left_out_because else p.value for p in trend.points])
    crossing = trend.crossing
    when = (
        f"Action level reached between {crossing.earliest:%d %b %Y} and {crossing.latest:%d %b %Y}."
        if crossing.earliest is not None and crossing.latest is not None
        else f"No date: {crossing.withheld_because}."
    )
    action = (
        ""
        if trend.action_level is None
        else (f"Action level {_value(trend.action_level, trend.unit)}: {trend.action_source}.")
    )
    shown = trend.points[-MOST_VISITS:]
    rows = tuple(
        (
            f"{p.at:%Y-%m-%d %H:%M}",
            "-" if p.running_hours_h is None else f"{p.running_hours_h:,.0f}",
            _value(p.value, trend.unit),
            "-" if p.low is None or p.high is None else f"{p.low:.3g} to {p.high:.3g}",
            str(p.n_recordings),
            p.left_out_because or "used",
        )
        for p in shown
    )
    hidden = len(trend.points) - len(shown)
    steps = tuple(
        f"Rebuild of {s.at:%d %b %Y}: {s.ratio:.2g} times the level before"
        + (f" (80 of 100: {s.ratio_interval[0]:.2g} to {s.ratio_interval[1]:.2g})."
           if s.ratio_interval else ".")
        for s in trend.steps if s.ratio is not None
    )  # fmt: skip
    more = (f"The last {len(shown)} of {len(trend.points)} visits.",) if hidden else ()
    return PageSection(
        title=f"Point {trend.point}: {trend.title}",
        paragraphs=(line, f"{trend.sentence}. State: {trend.state}.", when, action, *steps, *more),
        headers=("visit", "hours", "value", "range", "recordings", "state"),
        rows=rows,
    )


def _value(value: float, unit: str) -> str:
    return f"{value:.3g} {unit_text(unit)}".strip()


def _windows(outlook: Outlook) -> PageSection:
    rows = tuple(
        (
            f"{window.at:%d %b %Y}",
            "not known" if window.probability_before is None else _percent(window.probability_before),
            "not known" if window.expected_cost is None else
            f"+{_rounded(window.expected_cost)} {outlook.currency}".strip(),
            "costs least" if window.is_cheapest else "-",
            window.sentence,
        )
        for window in outlook.windows
    )  # fmt: skip
    if not rows:
        return PageSection(
            title="Windows",
            paragraphs=("no planned stop is known: maintenance.windows on the card, or --window",),
        )
    return PageSection(
        title="Windows",
        headers=("stop", "risk before it", "cost over the cheapest", "by cost", "in words"),
        rows=rows,
    )


def _percent(chance: float) -> str:
    if chance < 0.01:
        return "below 1 %"
    return "above 95 %" if chance > 0.95 else f"{100 * chance:.0f} %"


def _rounded(cost: float) -> str:
    """Two significant digits: a cost is never known better."""
    return f"{float(f'{cost:.2g}'):,.0f}"


def _life(outlook: Outlook) -> PageSection:
    known = [life for life in outlook.life if life.load_kn is not None or life.l10h is not None]
    rows = tuple(_life_row(life) for life in known)
    notes = tuple(
        f"{life.bearing}: {text}"
        for life in outlook.life
        for text in (
            *life.remarks,
            *([f"missing on the card: {', '.join(life.missing)}"] if life.missing else []),
        )
    )
    return PageSection(
        title="Rating life (ISO 281)",
        paragraphs=(outlook.life_sentence,),
        items=notes,
        headers=(
            "bearing",
            "load P",
            "L10h",
            "with oil and dirt",
            "5 % faster",
            "10 % more stroke",
        ),
        rows=rows,
    )


def _life_annex(outlook: Outlook) -> tuple[PageSection, ...]:
    rows = tuple(
        (life.bearing, factor.name, _with_unit(factor.value, factor.unit), factor.source)
        for life in outlook.life
        for factor in life.factors
    )
    if not rows:
        return ()
    headers = ("bearing", "quantity", "value", "source")
    title = "What went into the rating life"
    return (PageSection(title=title, headers=headers, rows=rows, is_annex=True),)


def _limits_annex(outlook: Outlook) -> tuple[PageSection, ...]:
    rows = tuple(
        (name.replace("_", " "), _with_unit(row["value"], row["unit"]), row["source"])
        for name, row in outlook.settings.items()
    )
    if not rows:
        return ()
    headers = ("limit", "value", "source")
    return (PageSection(title="Limits used", headers=headers, rows=rows, is_annex=True),)


def _with_unit(value: float, unit: str) -> str:
    return f"{value:.4g} {unit_text(unit)}".strip()


def _life_row(life: BearingLife) -> tuple[str, ...]:
    return (
        life.bearing,
        "-" if life.load_kn is None else f"{life.load_kn:.3g} kN",
        "-" if life.l10h is None else hours_in_words(life.l10h),
        "-" if life.lnmh is None else hours_in_words(life.lnmh),
        "-" if life.faster_5_percent is None else f"life x {life.faster_5_percent:.2f}",
        "-" if life.stroke_10_percent is None else f"life x {life.stroke_10_percent:.2f}",
    )
