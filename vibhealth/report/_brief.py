"""The report on about one screen and a half: what does not pass in full, what passes by name."""

from collections.abc import Iterator

from rich.console import RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from vibhealth.acceptance import CAUTIONS
from vibhealth.model import CriterionResult
from vibhealth.report._console import COLOURS, fact_rows, heading, item, marked
from vibhealth.report._wording import MARKS
from vibhealth.report.criteria_view import CriterionRow, GroupView
from vibhealth.report.recording_view import Fact
from vibhealth.report.view import ImprovementRow, ReportView

__all__ = ["brief_parts"]

REASONS, NAMES, CHANGES, LEAST_FOUND = (
    6,
    8,
    8,
    4,
)  # most that are printed of each; the rest is counted
LABEL_COLUMNS = 15  # what stands left of the text of a labelled fact
BEARING_WORD = "bearing"  # in the title of every family and of the level in the bearing band
SYMBOL_OF_PASS = MARKS[CriterionResult.PASS].symbol
SENSITIVITY = "The least that would have been found (as left, best point; worst first)"
DETAILS = (
    "Every level, family, check and setting, and all cautions: in the HTML report, or here with "
    "--details."
)


def brief_parts(view: ReportView, *, width: int) -> list[RenderableType]:
    """Return the short report as pieces to print, verdict first."""
    parts: list[RenderableType] = [Text(view.headline, style=COLOURS[view.mark.tone])]
    parts += [Text(""), *fact_rows(*_first_facts(view, width))]
    if view.open_criteria:
        parts += [*heading(view.open_title), _open_criteria(view)]
    passed = [item(_passed_words(g), bullet=SYMBOL_OF_PASS) for g in view.groups if g.passed]
    if passed:
        parts += [*heading("What passed"), *passed]
    changes = [row for row in view.improvements if BEARING_WORD in row.title.lower()]
    if changes:
        parts += [*heading("The bearing, as found to as left"), *_changes(changes)]
    parts += heading(SENSITIVITY if view.sensitivity else "Sensitivity")
    parts += [*_sensitivity(view), Text(""), Padding(Text(DETAILS), (0, 0, 0, 2))]
    return [*parts, *_cautions(view)]


def _first_facts(view: ReportView, width: int) -> Iterator[Fact]:
    more = [reason for reason in view.reasons if reason.rstrip(".") not in view.headline]
    if more:
        shown = [f"{place}. {reason}" for place, reason in enumerate(more[:REASONS], start=1)]
        rest = [f"and {len(more) - REASONS} more"] if len(more) > REASONS else []
        label = "Why" if len(more) == len(view.reasons) else "Also"
        yield Fact(label=label, value="\n".join([*shown, *rest]))
    yield Fact(label="Do now", value=view.next_action)
    if view.checks:
        looks = [f"{place}. {row.sentence}" for place, row in enumerate(view.checks, start=1)]
        yield Fact(label="Look at", value="\n".join(looks))
    if view.override:
        yield Fact(label="Override", value=view.override)
    yield Fact(label="Check again", value=view.check_at)
    if view.compared_with:
        yield Fact(label="Reference", value=view.compared_with)
    yield Fact(label="Rests on", value=_whole_sentences(view.scope, 2 * (width - LABEL_COLUMNS)))
    yield Fact(label="Machine", value=view.machine)


def _whole_sentences(text: str, columns: int) -> str:
    """First sentences that fit, at least one; what is left out stands in the report."""
    kept, *others = text.split(". ")
    for sentence in others:
        if len(kept) + len(sentence) + 2 > columns:
            return f"{kept.rstrip('.')}."
        kept = f"{kept}. {sentence}"
    return kept


def _open_criteria(view: ReportView) -> RenderableType:
    grid = Table.grid(padding=(0, 2))
    grid.add_column(no_wrap=True)
    grid.add_column(overflow="fold")
    for row in view.open_criteria:
        text = Text(row.title, style="bold").append(f": {_measured(row)}", style="not bold")
        if row.advice and row.advice not in view.next_action:
            text.append(f" {row.advice}", style="not bold")
        grid.add_row(marked(row.mark), text)
    return Padding(grid, (0, 0, 0, 2))


def _measured(row: CriterionRow) -> str:
    """Value, limit, comparison and source in one sentence."""
    if row.limit == "none" or row.limit in row.sentence:
        return row.sentence or f"{row.value}."
    compared = f"{row.comparison}, " if row.comparison else ""
    limit = f"imit {row.limit} ({compared}{row.source_short})."
    return f"{row.sentence} L{limit}" if row.sentence else f"{row.value}, l{limit}"


def _passed_words(group: GroupView) -> str:
    if group.is_recording:
        count = len(group.passed)
        return f"{count} {'check' if count == 1 else 'checks'} of the recordings passed"
    names = [_passed_row(row) for row in group.passed[:NAMES]]
    rest = [f"{len(group.passed) - NAMES} more"] if len(group.passed) > NAMES else []
    return f"{group.title}: {', '.join([*names, *rest])}"


def _passed_row(row: CriterionRow) -> str:
    title = row.title[:1].lower() + row.title[1:] if row.title[1:2].islower() else row.title
    if not row.value:
        return title
    if row.limit in {"none", row.value}:
        return f"{title} {row.value}"
    return (
        f"{title} {row.value} of {row.limit}"
        if "×" in row.comparison
        else (f"{title} {row.value} ({row.limit})")
    )


def _changes(rows: list[ImprovementRow]) -> Iterator[RenderableType]:
    """What got worse first: it must not be among what is only counted."""
    ordered = sorted(rows, key=lambda row: "worse" not in row.change)
    grid = Table.grid(padding=(0, 2))
    for row in ordered[:CHANGES]:
        title = Text(row.title, overflow="ellipsis", no_wrap=True)
        grid.add_row(title, Text(f"{row.before} → {row.after}"), Text(row.change))
    yield Padding(grid, (0, 0, 0, 2))
    if len(rows) > CHANGES:
        yield Text(f"  and {len(rows) - CHANGES} more")


def _sensitivity(view: ReportView) -> Iterator[RenderableType]:
    if not view.sensitivity:
        yield item(view.no_sensitivity)
        return
    for row in view.sensitivity[:LEAST_FOUND]:
        where = f"{row.point}, {row.exception}" if row.exception else row.point
        yield item(f"{row.sentence.rstrip('.')} ({where}).")
    if len(view.sensitivity) > LEAST_FOUND:
        yield Text(f"  and {len(view.sensitivity) - LEAST_FOUND} more")


def _cautions(view: ReportView) -> Iterator[RenderableType]:
    """The first and the last caution; and on a PASS what it does not mean."""
    yield item(f"{CAUTIONS[0].partition('. ')[0]}.", bullet="!")
    if view.mark == MARKS[CriterionResult.PASS]:
        yield item(CAUTIONS[-2], bullet="!")
    yield item(f"{CAUTIONS[-1].partition('. ')[0]}.", bullet="!")
