"""A recording plan as plain text to print: 100 columns, black and white, boxes to tick."""

import textwrap
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from vibhealth.acceptance.plan import RecordingPlan
from vibhealth.report.plan_view import PlanSection, PlanStepView, PlanView

__all__ = ["plan_dict", "plan_text"]

WIDTH = 100
TICK = "[ ] "
BLANKS = "file ____________________________  start __:__  housing _____ °C  air _____ °C  ok"
READING = "__:__  housing _____ °C  air _____ °C"


def plan_dict(plan: RecordingPlan) -> dict[str, Any]:
    """A plan as JSON-able facts.

    Parameters
    ----------
    plan : RecordingPlan
        From `recording_plan`.

    Returns
    -------
    dict
        Valid against ``schema("plan")`` once printed by `dumps`; keys carry units.
    """
    facts = asdict(plan)
    facts["write_down"] = [
        {"text": text, "needed_for_decision": needed} for text, needed in plan.write_down
    ]
    for sensor, known in zip(plan.sensors, facts["sensors"], strict=True):
        known["share_of_range"] = sensor.share_of_range
    return {"schema_version": 1, **facts}


def plan_text(view: PlanView) -> str:
    """The sheet.

    Parameters
    ----------
    view : PlanView
        From `plan_view`.

    Returns
    -------
    str
        Lines of at most 100 characters, ending with a newline.
    """
    lines = [*_wrapped(view.title), *_wrapped(view.subtitle)]
    for section in view.sections:
        lines += ["", *_section(section)]
    return "\n".join([*lines, "", "-" * WIDTH, *_wrapped(view.foot)]) + "\n"


def _wrapped(text: str, first: str = "", rest: str | None = None, width: int = WIDTH) -> list[str]:
    return textwrap.wrap(
        text,
        width,
        initial_indent=first,
        subsequent_indent=first if rest is None else rest,
        break_on_hyphens=False,
    ) or [first.rstrip()]


def _items(texts: Sequence[str], mark: str, indent: str = "  ") -> list[str]:
    hang = indent + " " * len(mark)
    return [line for text in texts for line in _wrapped(text, indent + mark, hang)]


def _section(section: PlanSection) -> list[str]:
    rule = "=" if section.is_boxed else "-"
    lines = [section.title.upper(), rule * len(section.title)]
    lines += [line for text in section.paragraphs for line in _wrapped(text, "  ")]
    if section.headers:
        lines += _table(section)
    lines += _items(section.items, "! " if section.is_boxed else "- ")
    lines += _items(section.ticks, TICK)
    for number, step in enumerate(section.steps, start=1):
        lines += ([""] if number > 1 else []) + _step(number, step)
    return lines


def _step(number: int, step: PlanStepView) -> list[str]:
    head = f"{number:>2}. "
    lines = _wrapped(f"{step.title}: {step.when}", head, "    ")
    if step.what:
        lines += _wrapped(step.what, "    ")
    lines += _items(step.ticks, TICK, "    ")
    lines += [f"    {READING}    {READING}"] * ((step.readings + 1) // 2)
    return lines + [f"    {count}  {BLANKS} [ ]" for count in range(1, step.recordings + 1)]


def _table(section: PlanSection) -> list[str]:
    """Columns as wide as their longest cell, the widest one folded into what is left."""
    mark = TICK if section.has_ticks else ""
    rows = [section.headers, *section.rows]
    widths = [max(len(row[column]) for row in rows) for column in range(len(section.headers))]
    room = WIDTH - 2 - len(mark) - 2 * (len(widths) - 1)
    while sum(widths) > room:
        widest = widths.index(max(widths))
        widths[widest] -= min(sum(widths) - room, max(1, widths[widest] - room // len(widths)))
    lines = _row(section.headers, widths, " " * len(mark))
    lines.append("  " + " " * len(mark) + "  ".join("-" * width for width in widths))
    for row in section.rows:
        lines += _row(row, widths, mark)
    return lines


def _row(cells: Sequence[str], widths: Sequence[int], mark: str) -> list[str]:
    folded = [
        _wrapped(cell.strip(), " " * (len(cell) - len(cell.lstrip())), width=width)
        for cell, width in zip(cells, widths, strict=True)
    ]
    lines = []
    for number in range(max(map(len, folded))):
        parts = [cell[number] if number < len(cell) else "" for cell in folded]
        start = mark if number == 0 else " " * len(mark)
        body = "  ".join(part.ljust(width) for part, width in zip(parts, widths, strict=True))
        lines.append(f"  {start}{body}".rstrip())
    return lines
