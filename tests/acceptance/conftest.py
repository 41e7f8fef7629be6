"""Analyses of an invented rebuild, written down and not computed: deck feeder F3 of a salt works."""

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest

from vibhealth.acceptance import judge
from vibhealth.bearing import defect_orders
from vibhealth.card import MachineCard
from vibhealth.model import (
    Assessment,
    CageSpeed,
    Calibration,
    Criterion,
    CriterionResult,
    Descriptor,
    Disturbance,
    Element,
    FamilyFinding,
    Motion,
    MotionShape,
    QualityFinding,
    Recording,
    RecordingAnalysis,
    SensitivityFinding,
    Speed,
    Stage,
)
from vibhealth.units import rpm_to_hz

NOMINAL_RPM = 978.0
STROKE_MM = 6.0
STEADY = MotionShape(
    one_sidedness=0.007, beat_percent=0.01, wobble_ratio=0.0003, third_order_ratio=0.0
)
CHECKS = ("length", "clipping", "calibration", "sensor-range", "dropped-samples", "speed-found")


def _card(**changes: Any) -> MachineCard:
    table: dict[str, Any] = {
        "schema_version": 1,
        "machine": {"id": "F3", "name": "Deck feeder F3", "nominal_speed_rpm": NOMINAL_RPM},
        "exciter": {"stroke_mm": {"x": STROKE_MM, "y": STROKE_MM}},
        "bearing": [
            {
                "name": "DE",
                "element_count": 9,
                "element_diameter_mm": 7.94,
                "pitch_diameter_mm": 39.04,
                "load_case": "rotating",
            }
        ],
    }
    return MachineCard.model_validate(table | changes)


@pytest.fixture(scope="session")
def make_card() -> Callable[..., MachineCard]:
    """The card of F3 with tables exchanged; its bearing has no blind spot."""
    return _card


ORDERS = defect_orders(_card().rolling_bearings()[0])


def _family(
    element: Element = Element.OUTER_RING, depth: float = 0.02, **changes: Any
) -> FamilyFinding:
    result = CriterionResult.PASS
    if depth >= 0.15:
        result = CriterionResult.HOLD if depth >= 0.3 else CriterionResult.WATCH
    order = ORDERS.strike_order(element)
    assert order is not None
    facts: dict[str, Any] = {
        "bearing": "DE",
        "element": element,
        "order": order,
        "frequency_hz": order * rpm_to_hz(NOMINAL_RPM),
        "slip_percent": 0.0,
        "false_alarm_probability": 1e-9 if depth >= 0.15 else 0.4,
        "depth": 2 * depth,
        "depth_whitened": depth,
        "impact_m_s2": 10 * depth,
        "band_hz": (1000.0, 2000.0),
        "result": result,
        "present": depth >= 0.28,
    }
    return FamilyFinding(**facts | changes)


@pytest.fixture(scope="session")
def make_family() -> Callable[..., FamilyFinding]:
    """A finding of a whitened depth, judged by the default limits."""
    return _family


def _sensitivity(
    depth: float, impact: float | None, other: dict[Element, tuple[float, float]]
) -> tuple[SensitivityFinding, ...]:
    found = {element: other.get(element, (depth, impact)) for element in Element}
    return tuple(
        SensitivityFinding(
            bearing="DE",
            element=element,
            detectable_depth=found[element][0],
            detectable_impact_m_s2=found[element][1],
            probability=0.95,
        )
        for element in Element
    )


def _recorded(
    number: int = 1,
    *,
    stage: Stage = Stage.AS_LEFT,
    point: str | None = "P1X",
    direction: str | None = "x",
    rpm: float | None = NOMINAL_RPM,
    source: str = "recording",
    variation: float | None = 0.05,
    stroke: float | None = STROKE_MM,
    harmonic: float = 0.05,
    half: float = 0.001,
    is_calibrated: bool = True,
    has_motion: bool = True,
    level: float | None = 1.0,
    families: Sequence[FamilyFinding] = (),
    not_judged: str = "",
    detectable: float | None = 0.1,
    detectable_impact: float | None = 0.5,
    detectable_other: dict[Element, tuple[float, float]] | None = None,
    quality: dict[str, CriterionResult] | None = None,
    cage_speeds: Sequence[CageSpeed] = (),
    disturbances: Sequence[Disturbance] = (),
    shape: MotionShape | None = STEADY,
    masked: str = "",
    **recording: Any,
) -> RecordingAnalysis:
    known: dict[str, Any] = {
        # No two alike: the same samples twice are one recording.
        "samples": np.arange(16) * 1.0 + 100 * number + (stage is Stage.AS_FOUND),
        "sampling_rate_hz": 25600.0,
        "unit": "m/s2" if is_calibrated else "counts",
        "path": f"{stage.value}/{number}.wav",
        "sha256": f"{stage.value}-{number}",
        "point": point,
        "direction": direction,
        "stage": stage,
        "calibration": Calibration(scale_m_s2=1.0, source="sidecar") if is_calibrated else None,
    }
    given = {family.element: family for family in families}
    results = dict.fromkeys(CHECKS, CriterionResult.PASS) | (quality or {})
    unit = known["unit"]
    return RecordingAnalysis(
        recording=Recording(**known | recording),
        speed=Speed(
            shaft_frequency_hz=None if rpm is None else rpm_to_hz(rpm),
            variation_percent=variation,
            source=source,  # type: ignore[arg-type]
            detail=f"told by {source}",
        ),
        quality=tuple(
            QualityFinding(id=id_, title=f"check {id_}", result=result, detail=f"{id_} {result}")
            for id_, result in results.items()
        ),
        descriptors=()
        if level is None
        else (
            Descriptor(id="residual-rms", title="rms, residual", value=3.0, unit=unit),
            Descriptor(id="bearing-band-block-median", title="median rms", value=level, unit=unit),
        ),
        motion=Motion(
            amplitude_1x=31.4,
            phase_1x_rad=0.0,
            unit=unit,
            stroke_mm=stroke if is_calibrated else None,
            harmonics=(),
            half_orders=(),
            harmonic_ratio=harmonic,
            half_order_ratio=half,
        )
        if has_motion
        else None,
        families=()
        if not_judged
        else tuple(given.get(element, _family(element)) for element in Element),
        families_not_judged=not_judged,
        sensitivity=()
        if detectable is None
        else _sensitivity(detectable, detectable_impact, detectable_other or {}),
        spectra=(),
        envelopes=(),
        waveform_time_s=np.zeros(0),
        waveform=np.zeros(0),
        cage_speeds=tuple(cage_speeds),
        disturbances=tuple(disturbances),
        shape=shape if has_motion else None,
        masked=masked,
    )


@pytest.fixture(scope="session")
def make_analysis() -> Callable[..., RecordingAnalysis]:
    """One analysis, clean in every respect unless told otherwise; ``number`` tells files apart."""
    return _recorded


def _judged(
    *first: dict[str, Any],
    before: Sequence[RecordingAnalysis] = (),
    card: MachineCard | None = None,
    **all_three: Any,
) -> Assessment:
    facts = [*first, *[{}] * (3 - len(first))]
    after = [
        _recorded(**{"number": number, **all_three, **fact})
        for number, fact in enumerate(facts, start=1)
    ]
    return judge(before, after, card=card or _card())


@pytest.fixture(scope="session")
def judged() -> Callable[..., Assessment]:
    """Judge three as-left recordings: facts of all of them, or of the first ones by dict."""
    return _judged


@pytest.fixture(scope="session")
def criterion() -> Callable[[Assessment, str], Criterion]:
    """The one criterion of this id."""

    def pick(assessment: Assessment, id_: str) -> Criterion:
        found = [item for item in assessment.criteria if item.id == id_]
        assert len(found) == 1, f"{id_} must stand once, got {len(found)}"
        return found[0]

    return pick
