"""Recordings of an invented machine, deck feeder F3 of an invented salt works, and their analysis."""

from datetime import UTC, datetime
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from vibhealth.model import (
    BandChoice,
    Calibration,
    CriterionResult,
    Descriptor,
    Element,
    EnvelopeCurve,
    FamilyFinding,
    Motion,
    OrderLine,
    QualityFinding,
    Recording,
    RecordingAnalysis,
    SampleUnit,
    SensitivityFinding,
    SpectrumCurve,
    Speed,
    Stage,
)

SHAFT_HZ, RATE_HZ, SECONDS = 16.3, 25600.0, 60.0
ORDERS = {
    Element.OUTER_RING: 7.119,
    Element.INNER_RING: 9.881,
    Element.ROLLING_ELEMENT: 5.991,
    Element.CAGE: 0.419,
}
DEPTHS: dict[str, dict[Element, float]] = {
    "spalled": {
        Element.OUTER_RING: 0.84,
        Element.INNER_RING: 0.031,
        Element.ROLLING_ELEMENT: 0.17,
        Element.CAGE: 0.012,
    },
    "clean": {
        Element.OUTER_RING: 0.021,
        Element.INNER_RING: 0.018,
        Element.ROLLING_ELEMENT: 0.014,
        Element.CAGE: 0.011,
    },
}


def _lines_at(axis: NDArray[Any], lines: dict[float, float], width: float) -> NDArray[np.float64]:
    total = np.zeros_like(axis)
    for place, height in lines.items():
        total += height * np.exp(-(((axis - place) / width) ** 2))
    return total


def envelope(depths: dict[Element, float], *, whitened: bool, seed: int) -> EnvelopeCurve:
    order = np.arange(1, 4001, dtype=np.float64) * 0.01
    floor = 0.006 + 0.006 * (1 - order / 50)
    noise = np.random.default_rng(seed).rayleigh(1 / np.sqrt(np.log(4)), order.size)
    lines = {1.0: 0.05 if whitened else 0.3}
    for element, depth in depths.items():
        lines |= {n * ORDERS[element]: depth / n**1.5 for n in (1, 2, 3)}
    centre = ORDERS[Element.OUTER_RING]
    lines |= {
        n * centre + side: 0.5 * depths[Element.OUTER_RING] / n**1.5
        for n in (1, 2, 3)
        for side in (-1, 1)
    }
    return EnvelopeCurve(
        label="whitened, best band" if whitened else "as recorded, band of the card",
        band=BandChoice(
            low_hz=2000.0 if whitened else 1000.0,
            high_hz=4000.0 if whitened else 10000.0,
            whitened=whitened,
            detector="limited" if whitened else "squared",
            role="found" if whitened else "card",
        ),
        order=order,
        depth=floor * noise + _lines_at(order, lines, 0.015),
        floor=floor,
    )


def spectrum(level: float, unit: str, seed: int, *, has_speed: bool = True) -> SpectrumCurve:
    frequency_hz = np.arange(1, 5001, dtype=np.float64) * 2.0
    order = frequency_hz / SHAFT_HZ
    noise = np.random.default_rng(seed).rayleigh(0.01 * level, frequency_hz.size)
    shape = 1 + 4 * np.exp(-(((frequency_hz - 3000) / 900) ** 2))
    motion = _lines_at(order, {1.0: 31.4, 2.0: 0.9, 3.0: 0.4, 4.0: 0.2}, 0.06)
    return SpectrumCurve(
        kind="acceleration",
        unit=unit,
        frequency_hz=frequency_hz,
        order=order if has_speed else None,
        values=noise * shape + motion,
        line_spacing_hz=2.0,
        n_averages=119,
        window="hann",
    )


def family(element: Element, depth: float, *, calibrated: bool) -> FamilyFinding:
    result = CriterionResult.PASS
    if depth >= 0.15:
        result = CriterionResult.HOLD if depth >= 0.3 else CriterionResult.WATCH
    order = ORDERS[element]
    return FamilyFinding(
        bearing="upper",
        element=element,
        order=order,
        frequency_hz=order * SHAFT_HZ,
        slip_percent=0.4,
        false_alarm_probability=2.1e-7 if depth >= 0.15 else 0.31,
        depth=1.3 * depth,
        depth_whitened=depth,
        impact_m_s2=2.4 * depth if calibrated else None,
        band_hz=(2000.0, 4000.0),
        result=result,
        present=depth >= 0.15,
        ambiguous_with=("outer-ring",) if element is Element.ROLLING_ELEMENT else (),
        blind_spot=element is Element.CAGE,
        line_to_floor_db=(28.1, 24.6, 19.9) if depth >= 0.3 else (),
        sideband_evidence="side bands at 1x fit a load that turns" if depth >= 0.3 else "",
    )


def motion(unit: SampleUnit) -> Motion:
    lines = tuple(
        OrderLine(order=order, amplitude_m_s2=31.4 * ratio, relative_to_first=ratio)
        for order, ratio in ((2.0, 0.028), (3.0, 0.012))
    )
    half = (OrderLine(order=0.5, amplitude_m_s2=0.06, relative_to_first=0.0019),)
    return Motion(
        amplitude_1x=31.4,
        phase_1x_rad=0.7,
        unit=unit,
        stroke_mm=5.99 if unit == "m/s2" else None,
        harmonics=lines,
        half_orders=half,
        harmonic_ratio=0.031,
        half_order_ratio=0.0019,
    )


def descriptors(level: float, unit: str) -> tuple[Descriptor, ...]:
    band_hz = (1000.0, 10000.0)
    return (
        Descriptor(id="rms", title="rms, whole recording", value=22.3, unit=unit),
        Descriptor(id="band-rms", title="rms in the bearing band", value=level, unit=unit,
                   band_hz=band_hz),
        Descriptor(id="block-rms", title="median block rms in the bearing band",
                   value=0.91 * level, unit=unit, band_hz=band_hz),
        Descriptor(id="kurtosis", title="kurtosis in the bearing band", value=3.0 + level,
                   unit="1", band_hz=band_hz),
        Descriptor(id="velocity-rms", title="velocity rms", value=float("nan"), unit="mm/s",
                   band_hz=(10.0, 1000.0)),
    )  # fmt: skip


def quality(result: CriterionResult) -> tuple[QualityFinding, ...]:
    return (
        QualityFinding(id="clipping", title="Clipping", result=CriterionResult.PASS,
                       detail="largest value 61 % of the range"),
        QualityFinding(id="length", title="Length", result=result,
                       detail="978 turns, 1000 wanted", advice="Record 60 s or more."),
    )  # fmt: skip


def recording(
    path: str, *, stage: Stage, point: str, unit: SampleUnit = "m/s2", remark: str = ""
) -> Recording:
    calibrated = unit == "m/s2"
    return Recording(
        samples=np.zeros(int(RATE_HZ * SECONDS)),
        sampling_rate_hz=RATE_HZ,
        unit=unit,
        path=path,
        sha256=f"{sum(path.encode()):064x}",
        channel=1,
        n_channels=2,
        point=point,
        direction=point[-1].lower(),
        stage=stage,
        calibration=Calibration(scale_m_s2=490.3, source="sensor A1 of the machine card")
        if calibrated
        else None,
        start_time=datetime(2031, 3, 4, 9, 30, tzinfo=UTC) if calibrated else None,
        temperature_c=48.5 if calibrated else None,
        remarks=(("note", remark),) if remark else (),
    )


def analysis(
    path: str,
    *,
    stage: Stage,
    point: str = "P1X",
    condition: Literal["spalled", "clean"],
    unit: SampleUnit = "m/s2",
    remark: str = "",
    seed: int = 1,
) -> RecordingAnalysis:
    depths, calibrated = DEPTHS[condition], unit == "m/s2"
    level = 1.9 if condition == "spalled" else 0.6
    time_s = np.arange(4000, dtype=np.float64) / RATE_HZ
    noise = np.random.default_rng(seed).normal(0, level, time_s.size)
    return RecordingAnalysis(
        recording=recording(path, stage=stage, point=point, unit=unit, remark=remark),
        speed=Speed(
            shaft_frequency_hz=SHAFT_HZ,
            variation_percent=0.05,
            source="recording",
            detail="1x and five harmonics agree",
            uncertainty_percent=0.01,
        ),
        quality=quality(CriterionResult.PASS if calibrated else CriterionResult.WATCH),
        descriptors=descriptors(level, unit),
        motion=motion(unit),
        families=tuple(family(e, depth, calibrated=calibrated) for e, depth in depths.items()),
        families_not_judged="",
        sensitivity=tuple(
            SensitivityFinding(
                bearing="upper",
                element=element,
                detectable_depth=0.041,
                detectable_impact_m_s2=0.0612 if calibrated else None,
                probability=0.95,
                method="seeded into a copy of the recording, 40 trials",
            )
            for element in (Element.OUTER_RING, Element.INNER_RING)
        ),
        spectra=(spectrum(level, unit, seed),),
        envelopes=(
            envelope(depths, whitened=True, seed=seed),
            envelope(depths, whitened=False, seed=seed + 50),
        ),
        waveform_time_s=time_s,
        waveform=31.4 * np.cos(2 * np.pi * SHAFT_HZ * time_s) + noise,
    )


def silent_analysis() -> RecordingAnalysis:
    """No speed, no families, nothing measured: every gap a result may have."""
    return RecordingAnalysis(
        recording=recording("as-left/P2Y silent.wav", stage=Stage.UNSTATED, point="P2Y"),
        speed=Speed(
            shaft_frequency_hz=None,
            variation_percent=None,
            source="none",
            detail="no line stands out within 978 r/min plus or minus 3 %",
        ),
        quality=(),
        descriptors=(),
        motion=None,
        families=(),
        families_not_judged="no speed was found",
        sensitivity=(),
        spectra=(spectrum(0.02, "m/s2", 9, has_speed=False),),
        envelopes=(),
        waveform_time_s=np.zeros(0),
        waveform=np.zeros(0),
    )
