"""The check list: what only hands and eyes can confirm, in the order of the job."""

from vibhealth.job._item import DUE, EARLIEST_SHARE, JobItem, Need, Phase
from vibhealth.job._items_build import BUILD_ITEMS
from vibhealth.job._items_run import RUN_ITEMS

__all__ = ["DUE", "EARLIEST_SHARE", "ITEMS", "ITEM_BY_ID", "JobItem", "Need", "Phase", "items_of"]

ITEMS: tuple[JobItem, ...] = (*BUILD_ITEMS, *RUN_ITEMS)
ITEM_BY_ID: dict[str, JobItem] = {item.id: item for item in ITEMS}


def items_of(phase: Phase) -> tuple[JobItem, ...]:
    """The questions of one phase, in the order of work.

    Parameters
    ----------
    phase : Phase
        Part of the job.

    Returns
    -------
    tuple of JobItem

    Examples
    --------
    >>> [item.id for item in items_of(Phase.HOUR_8)]
    ['no-leak-8h']
    """
    return tuple(item for item in ITEMS if item.phase is phase)
