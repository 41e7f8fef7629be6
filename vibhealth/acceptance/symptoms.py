"""Which symptoms the criteria show, and the mistakes that explain them best."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from vibhealth.acceptance._evidence import Evidence
from vibhealth.acceptance.mistakes import MISTAKES, Mistake
from vibhealth.model import Criterion, CriterionResult, Element, Hold, MachineCheck

__all__ = ["observable_symptoms", "ranked_checks", "symptoms_of", "with_checks"]

MOST_CHECKS = 3
SHOWN = {CriterionResult.WATCH, CriterionResult.HOLD}

# Symptom of a criterion that does not pass, by its id.
PLAIN: dict[str, str] = {
    "one-sided-motion": "one-sided",
    "harmonic-ratio": "harmonics",
    "half-order-ratio": "half-orders",
    "third-order-ratio": "third-orders",
    "harmonics-since-before": "harmonics",
    "axial-since-before": "axial-1x",
    "axial-harmonics-since-before": "axial-2x",
    "recording-stroke-scale": "wrong-scale",
    "guard-swing": "swing-large",
    "beat": "beats",
    "wobble-ratio": "wobble",
    "stroke-repeats": "stroke-drifts",
    "axial-ratio": "axial-1x",
    "across-line-ratio": "orbit-tilt",
    "axial-harmonic-ratio": "axial-2x",
    "base-ratio": "base-moves",
    "orbit-axes": "orbit-axes",
    "orbit-tilt": "orbit-tilt",
    "recording-axes": "axes-swapped",
    "recording-cable": "one-channel-hits",
    "speed": "speed-off",
    "random-hits": "random-hits",
    "masked": "hidden",
    "bearing-band-not-worse": "rough",
    "bearing-band-since-last-check": "rough",
    "bearing-band-over-baseline": "rough",
    "half-octaves-over-baseline": "rough",
    "harmonics-over-baseline": "harmonics",
    "half-orders-over-baseline": "half-orders",
    "bearing-band-drift": "rough-rising",
    "ticking-grows": "ticking-grows",
    "transient-strikes": "transient-strikes",
    "run-up-time": "slow-start",
    "coast-down-time": "coast-short",
}

# Points of the table: what a mistake always, often, sometimes shows; what it always shows and
# is not there though it could be seen; what is there and it does not explain.
ALWAYS, OFTEN, SOMETIMES, MISSING, UNEXPLAINED = 4.0, 2.0, 1.0, -4.0, -1.5
# A symptom at watch only counts half.
WATCHED = 0.5


def with_checks(criteria: Sequence[Criterion], evidence: Evidence) -> tuple[Criterion, ...]:
    """Criteria with, for each that fails, at most three things to look at, most likely first.

    Parameters
    ----------
    criteria : sequence of Criterion
        All of an assessment.
    evidence : Evidence
        What they rest on.

    Returns
    -------
    tuple of Criterion
        Those that hold or are watched, and show a symptom of the table, get ``checks``,
        behind those that they have of their own.
    """
    weights = _weights(criteria)
    seen = observable_symptoms(criteria, evidence)
    return tuple(
        replace(item, checks=_joined(item, ranked_checks(symptoms_of(item), weights, seen)))
        if item.result in SHOWN
        else item
        for item in criteria
    )


def _joined(item: Criterion, ranked: Sequence[MachineCheck]) -> tuple[MachineCheck, ...]:
    """The criterion's own checks first, then those of the table, each once."""
    return tuple(dict.fromkeys([*item.checks, *ranked]))[:MOST_CHECKS]


def symptoms_of(criterion: Criterion) -> tuple[str, ...]:
    """Symptoms that a criterion shows where it does not pass; empty where it shows none.

    Parameters
    ----------
    criterion : Criterion
        Judged.

    Returns
    -------
    tuple of str
    """
    if criterion.result not in SHOWN:
        return ()
    for prefix, read in READ_FROM_VALUE.items():
        if criterion.id.startswith(prefix) and criterion.id not in PLAIN:
            return read(criterion)
    plain = PLAIN.get(criterion.id)
    return () if plain is None else (plain,)


def _stroke_symptoms(criterion: Criterion) -> tuple[str, ...]:
    if criterion.hold is Hold.MEASURE_AGAIN:  # it reads as another unit would
        return ("wrong-scale",)
    low = _signed(criterion) < 0
    return ("stroke-off", "stroke-low" if low else "stroke-high")


def _signed(criterion: Criterion) -> float:
    """Value less what the limit is about ("6 mm +- 15 %"); a value in percent is away already."""
    if isinstance(criterion.value, float) and criterion.unit == "%":
        return criterion.value
    if not isinstance(criterion.value, float) or not isinstance(criterion.limit, str):
        return 0.0
    return criterion.value - float(criterion.limit.split()[0])


def _family_symptoms(criterion: Criterion) -> tuple[str, ...]:
    found = ["bearing-ticks"]
    for element in Element:
        if criterion.id.endswith(element.value):
            found.append(element.value)
            if element in {Element.OUTER_RING, Element.INNER_RING}:
                found.append("ring-ticks")
    said = f"{criterion.reason} {criterion.detail} {criterion.value}"
    if "every element" in said or "all round" in said:
        found.append("marks-all-round")
    return tuple(found)


def _hit_symptoms(criterion: Criterion) -> tuple[str, ...]:
    """Hits that one channel alone shows may be its cable's as well."""
    if criterion.hold is Hold.MEASURE_AGAIN:
        return ("hits-each-turn", "one-channel-hits")
    return ("hits-each-turn",)


def _direction_symptoms(criterion: Criterion) -> tuple[str, ...]:
    """One recording among others that turns the other way is a matter of cables."""
    is_cable = criterion.hold is Hold.MEASURE_AGAIN
    return ("axes-swapped",) if is_cable else ("orbit-reversed",)


def _isolator_symptoms(criterion: Criterion) -> tuple[str, ...]:
    return ("isolator-soft" if _signed(criterion) < 0 else "isolator-stiff",)


def _line_symptoms(criterion: Criterion) -> tuple[str, ...]:
    return ("fixed-lines",) if "keep" in str(criterion.value) else ()


READ_FROM_VALUE: dict[str, Callable[[Criterion], tuple[str, ...]]] = {
    "stroke-": _stroke_symptoms,
    "hits-each-turn": _hit_symptoms,
    "orbit-direction": _direction_symptoms,
    "isolator-frequency": _isolator_symptoms,
    "swing": lambda _: ("swing-large",),
    "temperature-highest": lambda _: ("temperature",),
    "temperature-climb": lambda _: ("temperature",),
    "temperature-rise": lambda _: ("temperature",),
    "disturbances": _line_symptoms,
    "family-": _family_symptoms,
}


# What a criterion of several symptoms would have shown, had it been there.
OBSERVED: dict[str, tuple[str, ...]] = {
    "hits-each-turn": ("hits-each-turn",),
    "orbit-direction": ("orbit-reversed",),
    "isolator-frequency": ("isolator-soft", "isolator-stiff"),
}


def _weights(criteria: Iterable[Criterion]) -> dict[str, float]:
    """How clearly each symptom shows: 1 where a criterion holds, less where it is watched."""
    weights: dict[str, float] = {}
    for item in criteria:
        weight = 1.0 if item.result is CriterionResult.HOLD else WATCHED
        for symptom in symptoms_of(item):
            weights[symptom] = max(weight, weights.get(symptom, 0.0))
    return weights


def observable_symptoms(criteria: Sequence[Criterion], evidence: Evidence) -> frozenset[str]:
    """Symptoms that would have been seen: those whose criterion was judged.

    Parameters
    ----------
    criteria : sequence of Criterion
        All of an assessment.
    evidence : Evidence
        What they rest on.

    Returns
    -------
    frozenset of str
    """
    judged = {item.id for item in criteria if item.result is not CriterionResult.NOT_JUDGED}
    seen = {symptom for id_, symptom in PLAIN.items() if id_ in judged}
    seen |= {symptom for id_, shown in OBSERVED.items() if id_ in judged for symptom in shown}
    if any(id_.startswith("stroke-") for id_ in judged - {"stroke-repeats"}):
        seen |= {"stroke-off", "stroke-low", "stroke-high", "wrong-scale"}
    if any(analysis.families for analysis in evidence.after):
        seen |= {"bearing-ticks", "ring-ticks", "hits-each-turn", "random-hits"}
    return frozenset(seen)


def ranked_checks(
    about: Sequence[str], weights: dict[str, float], observable: frozenset[str]
) -> tuple[MachineCheck, ...]:
    """At most three checks for a criterion, most likely first.

    Parameters
    ----------
    about : sequence of str
        Symptoms of this criterion; only mistakes that show one of them are named.
    weights : dict of str to float
        All symptoms of the assessment, 0 to 1.
    observable : frozenset of str
        Symptoms that would have been seen.

    Returns
    -------
    tuple of MachineCheck
        Empty where no mistake of the table shows these symptoms.
    """
    candidates = [row for row in MISTAKES if set(about) & _shows(row)]
    ranked = sorted(candidates, key=lambda row: -_score(row, about, weights, observable))
    return tuple(
        MachineCheck(
            step=row.step, mistake=row.mistake, check=row.check, seen_by_vibration=row.seen
        )
        for row in ranked[:MOST_CHECKS]
    )


def _shows(row: Mistake) -> frozenset[str]:
    return row.always | row.often | row.sometimes


def _score(
    row: Mistake, about: Sequence[str], weights: dict[str, float], observable: frozenset[str]
) -> float:
    """How well a mistake explains all that is seen; its own criterion's symptoms count twice."""
    score = 0.0
    for symptom, weight in weights.items():
        twice = 2.0 if symptom in about else 1.0
        score += twice * weight * _points(row, symptom)
    return score + sum(MISSING for s in row.always if s in observable and s not in weights)


def _points(row: Mistake, symptom: str) -> float:
    if symptom in row.always:
        return ALWAYS
    if symptom in row.often:
        return OFTEN
    return SOMETIMES if symptom in row.sometimes else UNEXPLAINED
