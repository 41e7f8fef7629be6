"""One analysed recording, worded: what it is, how fast, what was read in it."""

from dataclasses import dataclass

from vibhealth.model import (
    CriterionResult,
    Descriptor,
    Disturbance,
    FamilyFinding,
    Motion,
    OrderLine,
    QualityFinding,
    Recording,
    RecordingAnalysis,
    Speed,
)
from vibhealth.report._wording import (
    MARKS,
    NOT_MEASURED,
    PATTERN_WORDS,
    STAGE_WORDS,
    Mark,
    band,
    cage_sentence,
    clean,
    counted,
    file_label,
    interval,
    number,
    quantity,
    sensitivity_sentence,
    sentences,
)
from vibhealth.units import hz_to_rpm

__all__ = ["Fact", "FamilyRow", "LevelRow", "QualityRow", "RecordingView", "analysis_view"]

NO_SENSITIVITY = (
    "Not stated: no detectable size was measured for this recording, so nothing is said about "
    "faults too small to find."
)
NOT_STATED = "not stated"
NOTHING_FOUND = "-"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One labelled fact."""

    label: str
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class QualityRow:
    """One check of the recording itself."""

    mark: Mark
    title: str
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelRow:
    """One descriptor with its band."""

    title: str
    value: str
    band: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyRow:
    """One defect family as found."""

    mark: Mark
    bearing: str
    element: str
    found: str
    order: str
    frequency: str
    slip: str
    depth: str
    depth_whitened: str
    impact: str
    false_alarm: str
    band: str
    remarks: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingView:
    """Everything a renderer prints of one recording; nothing left to round or word."""

    name: str
    stage: str
    point: str
    sha256: str
    source: tuple[Fact, ...]
    speed: tuple[Fact, ...]
    quality: tuple[QualityRow, ...]
    quality_summary: str
    levels: tuple[LevelRow, ...]
    motion: tuple[Fact, ...]
    families: tuple[FamilyRow, ...]
    families_not_judged: str
    sensitivity: tuple[str, ...]
    cage_speeds: tuple[str, ...]
    disturbances: tuple[str, ...]
    masked: str

    @property
    def quality_passed(self) -> tuple[QualityRow, ...]:
        """Checks that pass."""
        return tuple(row for row in self.quality if row.mark == MARKS[CriterionResult.PASS])

    @property
    def quality_open(self) -> tuple[QualityRow, ...]:
        """Checks that do not pass, or could not be judged."""
        return tuple(row for row in self.quality if row.mark != MARKS[CriterionResult.PASS])


def analysis_view(analysis: RecordingAnalysis) -> RecordingView:
    """Word one analysed recording for printing.

    Parameters
    ----------
    analysis : RecordingAnalysis
        What the diagnosis found in it.

    Returns
    -------
    RecordingView
        All text: rounded, with units, foreign characters made harmless.
    """
    recording = analysis.recording
    return RecordingView(
        name=file_label(recording.path),
        stage=STAGE_WORDS[recording.stage],
        point=clean(recording.point) if recording.point else "point not stated",
        sha256=clean(recording.sha256),
        source=_source(recording, analysis.speed),
        speed=_speed(analysis.speed),
        quality=tuple(_quality(item) for item in analysis.quality),
        quality_summary=_quality_summary(analysis.quality),
        levels=tuple(_level(item) for item in analysis.descriptors),
        motion=_motion(analysis.motion),
        families=tuple(_family(item, recording) for item in analysis.families),
        families_not_judged=clean(analysis.families_not_judged),
        sensitivity=tuple(sensitivity_sentence(item) for item in analysis.sensitivity)
        or (NO_SENSITIVITY,),
        cage_speeds=tuple(cage_sentence(item) for item in analysis.cage_speeds),
        disturbances=tuple(_disturbance(item) for item in analysis.disturbances),
        masked=sentences(clean(analysis.masked)),
    )


def _disturbance(item: Disturbance) -> str:
    return sentences(f"{clean(item.title)}: {clean(item.detail)}", clean(item.advice))


def _source(recording: Recording, speed: Speed) -> tuple[Fact, ...]:
    calibration = recording.calibration
    facts = {
        "File": clean(recording.path),
        "SHA-256": clean(recording.sha256),
        "Stage": STAGE_WORDS[recording.stage],
        "Point and direction": _place(recording),
        "Channel": f"{recording.channel} of {recording.n_channels}",
        "Sampling rate": f"{recording.sampling_rate_hz:.10g} Hz",
        "Length": _length(recording, speed),
        "Calibration": "none known: nothing absolute is judged"
        if calibration is None
        else f"{number(calibration.scale_m_s2)} m/s² per file unit, {clean(calibration.source)}",
        "Recorded at": NOT_STATED
        if recording.start_time is None
        else recording.start_time.isoformat(sep=" "),
        "Housing temperature": quantity(recording.temperature_c, "degC"),
    }
    facts |= {f"Remark: {clean(key)}": clean(value) for key, value in recording.remarks}
    return tuple(Fact(label=label, value=value) for label, value in facts.items())


def _place(recording: Recording) -> str:
    direction = f"direction {clean(recording.direction)}" if recording.direction else NOT_STATED
    return f"{clean(recording.point) if recording.point else NOT_STATED}, {direction}"


def _length(recording: Recording, speed: Speed) -> str:
    seconds = f"{recording.duration_s:.1f} s"
    if speed.shaft_frequency_hz is None:
        return f"{seconds}, turns unknown (no speed found)"
    return f"{seconds}, {recording.duration_s * speed.shaft_frequency_hz:.0f} turns"


def _speed(speed: Speed) -> tuple[Fact, ...]:
    if speed.shaft_frequency_hz is None:
        return (Fact(label="Shaft speed", value=f"not found: {clean(speed.detail)}"),)
    frequency = speed.shaft_frequency_hz
    source = {
        "tachometer": "from the tachometer",
        "recording": "found in the recording itself",
        "given": "as given, not measured",
        "card": "nominal from the machine card, not measured",
        "none": "source not known",
    }[speed.source]
    return (
        Fact(
            label="Shaft speed",
            value=f"{hz_to_rpm(frequency):.1f} r/min ({frequency:.4g} Hz), {source}",
        ),
        Fact(
            label="Speed variation",
            value=quantity(speed.variation_percent, "percent", digits=2),
        ),
        Fact(
            label="Speed uncertainty",
            value=quantity(speed.uncertainty_percent, "percent", digits=2),
        ),
        Fact(label="Speed detail", value=clean(speed.detail) or NOT_STATED),
    )


def _quality(item: QualityFinding) -> QualityRow:
    passed = item.result is CriterionResult.PASS
    return QualityRow(
        mark=MARKS[item.result],
        title=clean(item.title),
        said=sentences(clean(item.detail), "" if passed else clean(item.advice)),
    )


def _quality_summary(quality: tuple[QualityFinding, ...]) -> str:
    if not quality:
        return "no check of the recording was made"
    return counted(item.result for item in quality)


def _level(item: Descriptor) -> LevelRow:
    return LevelRow(
        title=clean(item.title), value=quantity(item.value, item.unit), band=band(item.band_hz)
    )


def _motion(motion: Motion | None) -> tuple[Fact, ...]:
    if motion is None:
        return (Fact(label="Working motion", value=NOT_MEASURED),)
    return (
        Fact(label="Stroke at 1x, peak to peak", value=quantity(motion.stroke_mm, "mm")),
        Fact(label="Amplitude at 1x", value=quantity(motion.amplitude_1x, motion.unit)),
        Fact(label="Harmonics over 1x", value=_of_first(motion.harmonic_ratio)),
        Fact(label="Largest harmonic", value=_largest(motion.harmonics)),
        Fact(label="Half orders over 1x", value=_of_first(motion.half_order_ratio)),
        Fact(label="Largest half order", value=_largest(motion.half_orders)),
    )


def _of_first(ratio: float) -> str:
    return quantity(100 * ratio, "percent", digits=2)


def _largest(lines: tuple[OrderLine, ...]) -> str:
    if not lines:
        return NOT_MEASURED
    line = max(lines, key=lambda item: item.relative_to_first)
    return f"{number(line.order)}x with {_of_first(line.relative_to_first)} of 1x"


def _family(item: FamilyFinding, recording: Recording) -> FamilyRow:
    impact = quantity(item.impact_m_s2, "m/s2", digits=2)
    if item.result is CriterionResult.PASS:
        impact = NOTHING_FOUND  # the number would be the noise at this place
    if item.impact_m_s2 is None and not recording.is_calibrated:
        impact = "no calibration"
    return FamilyRow(
        mark=MARKS[item.result],
        bearing=clean(item.bearing),
        element=item.element.words,
        found="FOUND" if item.present else "not found",
        order=f"{item.order:.3f}",
        frequency=f"{item.frequency_hz:.4g} Hz",
        slip=f"{item.slip_percent:+.1f} %",
        depth=number(item.depth, digits=2),
        depth_whitened=number(item.depth_whitened, digits=2),
        impact=impact,
        false_alarm=_probability(item.false_alarm_probability),
        band=band(item.band_hz),
        remarks="; ".join(_family_remarks(item)),
    )


def _probability(value: float) -> str:
    """Below one in a million no model of noise is good enough to say how far."""
    return "below 10⁻⁶" if 0 <= value < 1e-6 else number(value, digits=2)


def _family_remarks(item: FamilyFinding) -> list[str]:
    remarks = []
    if item.ambiguous_with:
        others = " or ".join(clean(name).replace("-", " ") for name in item.ambiguous_with)
        remarks.append(f"cannot be told from {others}")
    if item.blind_spot and "blind spot" not in item.detail.lower():
        remarks.append("blind spot: falls on a shaft order")
    if item.line_to_floor_db:
        lines = ", ".join(f"{value:.0f}" for value in item.line_to_floor_db)
        remarks.append(f"lines {lines} dB above the floor")
    if item.result is not CriterionResult.PASS:  # else they would be those of the noise
        remarks = [*_sizes(item), *remarks, PATTERN_WORDS[item.pattern]]
    return [text for text in (*remarks, clean(item.sideband_evidence), clean(item.detail)) if text]


def _sizes(item: FamilyFinding) -> list[str]:
    """Sizes that have an interval: in 90 of 100 cases it holds the true one."""
    sizes = []
    if item.depth_interval is not None:
        words = f"modulation depth {item.depth_whitened:.2f}{interval(item.depth_interval)}"
        sizes.append(f"{words}, whitened")
    if item.impact_interval_m_s2 is not None and item.impact_m_s2 is not None:
        edges = interval(item.impact_interval_m_s2, "m/s2")
        sizes.append(f"strikes of about {quantity(item.impact_m_s2, 'm/s2', digits=2)}{edges}")
    return sizes
