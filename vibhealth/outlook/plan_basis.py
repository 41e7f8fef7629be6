"""Which life distribution the plan rests on, and whether going early gains anything by itself."""

from collections.abc import Sequence
from dataclasses import dataclass

from vibhealth.card.maintenance import Maintenance
from vibhealth.model import BearingLife, PlanBasis
from vibhealth.outlook.age_replacement import AgePolicy, Costs, best_age
from vibhealth.outlook.life_distribution import LifeDistribution
from vibhealth.outlook.life_fit import LifeFit, fit_lives
from vibhealth.outlook.unit_lives import UnitLives

__all__ = ["Basis", "choose_basis", "hours_in_words"]

# The slope that ISO 281 uses for the reliability of rolling bearings (from memory).
RATING_SLOPE = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """What is reported, with the distribution, the policy and the costs behind it."""

    plan: PlanBasis
    life: LifeDistribution | None
    policy: AgePolicy | None
    costs: Costs | None


def choose_basis(
    maintenance: Maintenance, lives: UnitLives, ratings: Sequence[BearingLife]
) -> Basis:
    """Life given on the card, else of the plant's own records, else of the rating life.

    Parameters
    ----------
    maintenance : Maintenance
        ``weibull_slope`` and ``characteristic_life_h`` count together; the slope alone goes with
        the rating life.
    lives : UnitLives
        Three failures at least make a distribution of their own.
    ratings : sequence of BearingLife
        The unit ends with its first bearing: the rating lives are put together.

    Returns
    -------
    Basis

    Notes
    -----
    Bearings in series: L = (sum L_i^-e)^(-1/e) with the slope e (ISO/TR 1281 and handbooks, from
    memory).
    """
    now = (lives.age_h,) if lives.age_h is not None and lives.age_h > 0 else ()
    fit = fit_lives(lives.failed_h, (*lives.running_on_h, *now))  # what runs has not failed yet
    slope, scale = maintenance.weibull_slope, maintenance.characteristic_life_h
    life: LifeDistribution | None = None
    source = "none"
    if slope is not None and scale is not None:
        life, source = LifeDistribution(slope=slope, scale_h=scale), "given"
    elif fit.life is not None:
        life, source = fit.life, "plant records"
    elif (rating := _unit_l10h(ratings, slope or RATING_SLOPE)) is not None:
        life, source = (
            LifeDistribution.from_rating_life(rating, slope or RATING_SLOPE),
            "rating life",
        )
    costs = _costs(maintenance)
    policy = best_age(life, costs) if life is not None and costs is not None else None
    own = source == "plant records"
    plan = PlanBasis(
        source=source,  # type: ignore[arg-type]
        slope=life.slope if life else None,
        scale_h=life.scale_h if life else None,
        slope_interval=fit.slope_interval if own else None,
        scale_interval_h=fit.scale_interval_h if own else None,
        n_failed=fit.n_failed,
        n_running_on=fit.n_running_on,
        age_h=lives.age_h,
        optimum_age_h=policy.age_h if policy and _is_ageing(life, fit, source) else None,
        cost_rate_ratio=policy.ratio if policy and _is_ageing(life, fit, source) else None,
        sentence=_sentence(life, source, fit, policy, costs) + _unused(maintenance, source),
    )
    return Basis(plan=plan, life=life, policy=policy, costs=costs)


def hours_in_words(hours: float) -> str:
    """Hours with two digits that count: no life is known better.

    >>> hours_in_words(12_717.4), hours_in_words(830.0)
    ('13,000 h', '830 h')
    """
    return f"{float(f'{hours:.2g}'):,.0f} h"


def _costs(maintenance: Maintenance) -> Costs | None:
    if maintenance.planned_cost is None or maintenance.unplanned_cost is None:
        return None
    return Costs(
        planned=maintenance.planned_cost,
        unplanned=maintenance.unplanned_cost,
        early_failure_share=maintenance.early_failure_share,
    )


def _unit_l10h(ratings: Sequence[BearingLife], slope: float) -> float | None:
    hours = [rating.lnmh or rating.l10h for rating in ratings]
    if not hours or any(value is None for value in hours):
        return None
    return float(sum(value**-slope for value in hours if value is not None) ** (-1 / slope))


def _unused(maintenance: Maintenance, source: str) -> str:
    slope, scale = maintenance.weibull_slope, maintenance.characteristic_life_h
    if scale is not None and slope is None:
        return ". maintenance.characteristic_life_h on the card needs weibull_slope beside it"
    if source != "plant records" or slope is None:
        return ""
    return ". maintenance.weibull_slope on the card is not used beside the plant's own records"


def _is_ageing(life: LifeDistribution | None, fit: LifeFit, source: str) -> bool:
    if life is None or life.slope <= 1:
        return False
    return source != "plant records" or fit.slope_interval is None or fit.slope_interval[0] > 1


def _sentence(
    life: LifeDistribution | None,
    source: str,
    fit: LifeFit,
    policy: AgePolicy | None,
    costs: Costs | None,
) -> str:
    if life is None:
        return (
            f"no life distribution: {fit.reason}, nothing is given on the card, and the rating "
            "life cannot be computed; only the condition counts"
        )
    words = {
        "given": "as given on the card",
        "plant records": f"from {fit.n_failed} failed units and {fit.n_running_on} that had not "
        "failed, of this machine",
        "rating life": "from the rating life, which real dirt, mounting and oil cut short",
    }[source]
    first = f"slope {life.slope:.2g}, 63 % failed by about {hours_in_words(life.scale_h)}, {words}"
    if not _is_ageing(life, fit, source):
        return f"{first}. Ageing is not shown: going early gains nothing by itself, the condition decides"
    if costs is None or policy is None:
        return f"{first}. Planned and unplanned cost are not on the card: no best age"
    if policy.age_h is None:
        return f"{first}. At these costs going early gains nothing by itself, the condition decides"
    return (
        f"{first}. By age alone rebuilding at about {hours_in_words(policy.age_h)} costs least, "
        f"{100 * (1 - policy.ratio):.0f} % less than running to failure"
    )
