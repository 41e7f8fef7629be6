"""The history for the terminal: machines, entries in the order of time, hits and misses."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

from rich.console import RenderableType
from rich.text import Text

from vibhealth.model import HistoryRecording, HistoryVerdict, OpenedUnit, Rebuild
from vibhealth.outlook.hits import HitTable
from vibhealth.report._console import fact_rows, heading, item, printed, table
from vibhealth.report.recording_view import Fact

__all__ = ["entry_rows", "entry_text", "hits_text", "machine_rows", "rows_text"]

Entry = HistoryRecording | HistoryVerdict | Rebuild | OpenedUnit
LETTERS: Mapping[type, str] = {
    HistoryRecording: "r", HistoryVerdict: "v", Rebuild: "b", OpenedUnit: "o"
}  # fmt: skip
EPOCH = datetime.min.replace(tzinfo=UTC)


def machine_rows(
    machine: str,
    recordings: Sequence[HistoryRecording],
    verdicts: Sequence[HistoryVerdict],
    rebuilds: Sequence[Rebuild],
) -> dict[str, Any]:
    """What a history holds of one machine, as plain values."""
    dates = sorted(r.recorded_at for r in recordings if r.recorded_at is not None)
    last = verdicts[-1] if verdicts else None
    return {
        "machine": machine,
        "recordings": len(recordings),
        "undated": len(recordings) - len(dates),
        "first": f"{dates[0]:%Y-%m-%d}" if dates else "-",
        "last": f"{dates[-1]:%Y-%m-%d}" if dates else "-",
        "rebuilds": len(rebuilds),
        "last_verdict": "-" if last is None else _verdict(last),
    }


def entry_rows(entries: Sequence[Entry]) -> list[dict[str, str]]:
    """Entries in the order of time, undated first, each with its name such as r12."""
    ordered = sorted(entries, key=lambda e: (_at(e) or EPOCH, LETTERS[type(e)], e.id or 0))
    return [
        {
            "entry": f"{LETTERS[type(entry)]}{entry.id}",
            "at": "-" if _at(entry) is None else f"{_at(entry):%Y-%m-%d %H:%M}",
            "what": _what(entry),
        }
        for entry in ordered
    ]


def rows_text(title: str, rows: Sequence[Mapping[str, Any]], *, width: int, color: bool) -> str:
    """Rows of the same keys as a table under a title."""
    parts: list[RenderableType] = [Text(title, style="bold")]
    if rows:
        grid = table(*(key.replace("_", " ") for key in rows[0]))
        for row in rows:
            grid.add_row(*(Text(str(value)) for value in row.values()))
        parts.append(grid)
    return printed(parts, width=width, color=color)


def entry_text(name: str, facts: Mapping[str, Any], *, width: int, color: bool) -> str:
    """Everything that is kept of one entry."""
    rows = [
        Fact(label=key.replace("_", " "), value=_words(value))
        for key, value in facts.items()
        if value not in (None, "", (), [])
    ]
    return printed([Text(name, style="bold"), *fact_rows(*rows)], width=width, color=color)


def hits_text(machine: str, found: HitTable, *, width: int, color: bool) -> str:
    """The hit and miss table of one machine."""
    grid = table("removed", "bearing", "said", "found", "depth", "result")
    for row in found.rows:
        depth = "-" if row.depth_whitened is None else f"{row.depth_whitened:.2f}"
        grid.add_row(
            *(Text(cell) for cell in (f"{row.removed_at:%Y-%m-%d}", row.bearing, row.said,
                                      row.found, depth, row.hit.value))
        )  # fmt: skip
    parts: list[RenderableType] = [Text(f"Said and found: {machine}", style="bold"), grid]
    parts += [item(f"{name}: {count}") for name, count in found.counts]
    parts += [*heading("what to look at"), *(item(text) for text in found.suggestions)]
    return printed(parts, width=width, color=color)


def _at(entry: Entry) -> datetime | None:
    if isinstance(entry, HistoryRecording):
        return entry.recorded_at
    if isinstance(entry, HistoryVerdict):
        return entry.decided_on
    return entry.at if isinstance(entry, Rebuild) else entry.removed_at


def _what(entry: Entry) -> str:
    if isinstance(entry, HistoryRecording):
        state = entry.unusable_because or entry.masked or entry.load or "load not stated"
        seen = [f"{f.element.value} {f.result.value}" for f in entry.families if f.result != "pass"]
        where = entry.point or f"channel {entry.channel}"
        return f"recording {where}, {state}{': ' if seen else ''}{', '.join(seen)}"
    if isinstance(entry, HistoryVerdict):
        return f"{_verdict(entry)}: {entry.headline}"
    if isinstance(entry, Rebuild):
        return f"rebuild ({entry.reason.value}), by {entry.by}"
    part = f", {entry.element.value}" if entry.element else ""
    return f"unit opened: bearing {entry.bearing}{part}: {entry.damage.value}"


def _verdict(entry: HistoryVerdict) -> str:
    kind = f" ({entry.hold})" if entry.hold else ""
    by = f", overridden by {entry.override.by}" if entry.override else ""
    return f"{entry.verdict}{kind}{f' at {entry.check}' if entry.check else ''}{by}"


def _words(value: Any) -> str:
    if isinstance(value, list | tuple):
        return "; ".join(_words(part) for part in value)
    if isinstance(value, Mapping):
        return ", ".join(f"{key} {_words(part)}" for key, part in value.items() if part is not None)
    return f"{value:.4g}" if isinstance(value, float) else str(value)
