"""What the recordings of a point were compared with."""

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["ReferenceRank", "ReferenceUse"]


class ReferenceRank(StrEnum):
    """How good a reference is, best first."""

    KNOWN_GOOD = "known-good"
    SISTER = "sister"
    NAMEPLATE = "nameplate"
    NONE = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceUse:
    """The reference of one point; names are empty where there is no baseline.

    ``widening_ratio`` is the factor on limits of levels; ``conditions`` say in words how state and
    means compare; ``is_fair`` whether a comparison was possible.
    """

    point: str
    rank: ReferenceRank
    is_fair: bool
    widening_ratio: float = 1.0
    name: str = ""
    accepted_by: str = ""
    made_at: str = ""
    digest: str = ""
    path: str = ""
    n_recordings: int = 0
    conditions: tuple[str, ...] = ()
