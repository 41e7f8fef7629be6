"""``[maintenance]``: what the planner knows: costs, windows, spare, how long units last."""

from datetime import date
from typing import Annotated

from pydantic import Field, model_validator

from vibhealth.card._types import CardModel, Faults, NonNegative, Number, Positive, Text

__all__ = ["Maintenance"]

Share = Annotated[Number, Field(ge=0, lt=1)]


class Maintenance(CardModel):
    """``[maintenance]``: everything optional; what is missing is said in the outlook.

    ``planned_cost`` and ``unplanned_cost`` are whole costs of a rebuild, in ``currency``.
    ``weibull_slope`` and ``characteristic_life_h`` describe how long units last, where known.
    ``early_failure_share`` of rebuilt units fail soon after the rebuild, of the rebuild.
    ``warning_time_days`` is the shortest credible time from the first sign to failure, and
    ``detection_share`` the share of coming failures that show a sign that long before.
    """

    running_hours_per_day: Annotated[Number, Field(gt=0, le=24)] | None = None
    currency: Text | None = None
    planned_cost: Positive | None = None
    unplanned_cost: Positive | None = None
    windows: tuple[date, ...] = ()
    spare_on_shelf: bool | None = None
    spare_lead_time_days: NonNegative | None = None
    risk_limit: Annotated[Number, Field(gt=0, lt=1)] = 0.1
    weibull_slope: Annotated[Number, Field(ge=0.3, le=10)] | None = None
    characteristic_life_h: Positive | None = None
    early_failure_share: Share = 0.0
    warning_time_days: Annotated[Number, Field(ge=1, le=730)] = 30.0
    detection_share: Share = 0.8
    recording_interval_days: Annotated[Number, Field(ge=0.5, le=365)] | None = None

    @model_validator(mode="after")
    def _unplanned_costs_more(self) -> "Maintenance":
        planned, unplanned = self.planned_cost, self.unplanned_cost
        if planned is not None and unplanned is not None and unplanned < planned:
            rule = (
                f"must not be below planned_cost ({planned:g}), since a failure costs a rebuild and "
                "more; are the two swapped?"
            )
            raise Faults([(("unplanned_cost",), rule, unplanned)])
        return self
