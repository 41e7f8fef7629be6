"""One entry of each kind."""

from datetime import UTC, date, datetime

from vibhealth.model import (
    Damage,
    Element,
    HistoryOverride,
    HistoryVerdict,
    OpenedUnit,
    Rebuild,
    RebuildReason,
)

__all__ = ["REBUILD", "UNIT", "VERDICT"]

MACHINE = "screen 0"

VERDICT = HistoryVerdict(
    machine=MACHINE,
    verdict="HOLD",
    hold="fix",
    headline="Outer ring – drive end",
    reasons=("first reason", "second, with ünïcode"),
    check="rebuild",
    decided_on=datetime(2026, 3, 2, 8, tzinfo=UTC),
    job_sha256="",
    recordings=("b" * 64, "a" * 64, "b" * 64),
    named=(("drive-end", "outer-ring"), ("free-end", "cage")),
    override=HistoryOverride(by="A. Fitter", reason="spare is late", at=None, is_valid=False),
    tool_version="0.1.0",
)
REBUILD = Rebuild(
    machine=MACHINE,
    at=datetime(2026, 3, 1, 6, 30, tzinfo=UTC),
    reason=RebuildReason.CONDITION,
    by="A. Fitter",
    unit_serial="U-17",
    running_hours_h=8123.5,
)
UNIT = OpenedUnit(
    machine=MACHINE,
    removed_at=datetime(2026, 3, 1, 6, tzinfo=UTC),
    bearing="drive-end",
    element=Element.OUTER_RING,
    damage=Damage.SURFACE_FATIGUE,
    by="B. Opener",
    opened_on=date(2026, 3, 9),
    remark="one spall",
)
