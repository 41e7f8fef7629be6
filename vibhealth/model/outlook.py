"""What the outlook says: trends, date ranges, rating life, windows, spare; never hours left."""

from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from typing import Any, Literal

from vibhealth.model.bearing import Element

__all__ = [
    "BearingLife",
    "CrossingRange",
    "LifeAssumption",
    "Outlook",
    "PlanBasis",
    "Sign",
    "SpareAdvice",
    "Trend",
    "TrendPoint",
    "TrendStep",
    "Window",
]


class Sign(StrEnum):
    """What the condition says, most urgent last."""

    NOT_KNOWN = "not-known"
    NONE = "no-sign"
    EARLY = "early-sign"
    CLEAR = "clear-sign"
    STOP = "stop-soon"


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendPoint:
    """One visit: the median of its recordings, with the range it may lie in.

    ``left_out_because`` is empty for a point in the same state as the others.
    """

    at: datetime
    running_hours_h: float | None
    value: float
    low: float | None
    high: float | None
    n_recordings: int
    left_out_because: str = ""
    present: bool = False  # a family: significant and of at least the size that names it
    is_masked: bool = False  # a level: in none of the recordings could the bearings be heard


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendStep:
    """A rebuild inside the trend: medians before and after, their ratio with 80 % interval."""

    at: datetime
    before: float | None
    after: float | None
    ratio: float | None
    ratio_interval: tuple[float, float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CrossingRange:
    """Dates between which the action level is reached in 80 of 100 cases (10 to 90 %).

    ``earliest`` and ``latest`` are None where withheld; ``latest`` alone is None where the
    90 % end lies beyond what may be extrapolated. ``quantiles`` are (probability, date) pairs
    within the horizon. ``already_reached``: the last points stand above the level.
    """

    earliest: date | None
    latest: date | None
    withheld_because: str
    already_reached: bool = False
    quantiles: tuple[tuple[float, date], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """One quantity of one point over time.

    ``slope_per_day`` is that of the natural logarithm (Theil-Sen), with its 80 % interval,
    over the points since the last rebuild. ``fit_from`` and ``fit_values`` draw it.
    """

    quantity: str
    title: str
    unit: str
    point: str
    bearing: str | None
    element: Element | None
    points: tuple[TrendPoint, ...]
    steps: tuple[TrendStep, ...]
    watch_level: float | None
    action_level: float | None
    action_source: str
    course: Literal["rising", "falling", "no-trend", "not-enough-history"]
    slope_per_day: float | None
    slope_interval: tuple[float, float] | None
    sentence: str
    crossing: CrossingRange
    state: str
    fit: tuple[tuple[datetime, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LifeAssumption:
    """One factor of the rating life: value, unit, where it comes from."""

    name: str
    value: float
    unit: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BearingLife:
    """Rating life of one bearing of the card.

    ``l10h`` and ``lnmh`` in hours; None with ``missing`` saying which keys of the card would
    be needed. ``factors`` holds everything that went in. ``faster_5_percent`` and
    ``stroke_10_percent`` are life ratios of 5 % more speed, 10 % more stroke.
    """

    bearing: str
    load_kn: float | None
    l10h: float | None
    lnmh: float | None
    kappa: float | None
    a_iso: float | None
    faster_5_percent: float | None
    stroke_10_percent: float | None
    factors: tuple[LifeAssumption, ...] = ()
    missing: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanBasis:
    """The life distribution that the windows rest on, and the long-run policy it leads to.

    Hours; ``source`` is "given", "plant records", "rating life" or "none".
    ``optimum_age_h`` is None where going early gains nothing; ``sentence`` says why.
    """

    source: Literal["given", "plant records", "rating life", "none"]
    slope: float | None
    scale_h: float | None
    slope_interval: tuple[float, float] | None
    scale_interval_h: tuple[float, float] | None
    n_failed: int
    n_running_on: int
    age_h: float | None
    optimum_age_h: float | None
    cost_rate_ratio: float | None  # optimum policy over run to failure
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """One shutdown window: probability of not reaching it in order, and what it costs.

    ``expected_cost`` is over the least of all windows, in the card's currency, None where costs
    are not known. ``is_cheapest`` marks the earliest window that costs as good as least.
    ``spare_is_there`` by then, if ordered on the day that is asked for; None where not known.
    """

    name: str
    at: date
    probability_before: float | None
    expected_cost: float | None
    is_cheapest: bool
    sentence: str
    spare_is_there: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareAdvice:
    """When to order the spare, apart from the decision to rebuild."""

    order_by: date | None
    is_due: bool
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """The planner's page of one machine; ``chosen_window`` is the stop that the headline names."""

    machine: str
    name: str
    as_of: date
    sign: Sign
    headline: str
    reasons: tuple[str, ...]
    evidence: tuple[str, ...]
    trends: tuple[Trend, ...]
    life: tuple[BearingLife, ...]
    life_sentence: str
    basis: PlanBasis
    windows: tuple[Window, ...]
    spare: SpareAdvice
    would_change: tuple[str, ...]
    next_recording: date | None
    next_recording_sentence: str
    cautions: tuple[str, ...]
    currency: str = ""
    chosen_window: date | None = None
    settings: dict[str, Any] = field(default_factory=dict)
