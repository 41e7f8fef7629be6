"""One analysed recording as CSV files; units stand in the headers."""

import csv
from collections.abc import Iterable, Sequence
from io import StringIO

from vibhealth.model import EnvelopeCurve, RecordingAnalysis, SpectrumCurve

__all__ = ["analysis_csv"]

_DIGITS = 10  # significant; as in the JSON


def analysis_csv(analysis: RecordingAnalysis) -> dict[str, str]:
    """Return curves and tables of one recording as CSV text.

    Parameters
    ----------
    analysis : RecordingAnalysis
        What the diagnosis found in it.

    Returns
    -------
    dict of str to str
        File name to text: comma, decimal point, one header line with units,
        lines ended by a line feed. A value that was not measured is an empty
        field. Tables without a row still have their header.
    """
    tables = {
        "quality.csv": _quality(analysis),
        "descriptors.csv": _descriptors(analysis),
        "families.csv": _families(analysis),
        "sensitivity.csv": _sensitivity(analysis),
        "motion.csv": _motion(analysis),
        "waveform.csv": _waveform(analysis),
    }
    for place, spectrum in enumerate(analysis.spectra, start=1):
        tables[f"spectrum-{place}-{spectrum.kind}.csv"] = _spectrum(spectrum)
    for place, envelope in enumerate(analysis.envelopes, start=1):
        tables[f"envelope-{place}-{envelope.band.role}.csv"] = _envelope(envelope)
    return tables


def _text(header: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    stream = StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(header)
    writer.writerows([_field(value) for value in row] for row in rows)
    return stream.getvalue()


def _field(value: object) -> str:
    if value is None or value != value:  # noqa: PLR0124 - only NaN differs from itself
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.{_DIGITS}g}" if isinstance(value, float) else str(value)


def _edges(edges: tuple[float, float] | None) -> tuple[float | None, float | None]:
    return edges if edges is not None else (None, None)


def _quality(analysis: RecordingAnalysis) -> str:
    return _text(
        ("id", "title", "result", "detail", "advice"),
        ((q.id, q.title, q.result.value, q.detail, q.advice) for q in analysis.quality),
    )


def _descriptors(analysis: RecordingAnalysis) -> str:
    return _text(
        ("id", "title", "value", "unit", "band_low_hz", "band_high_hz"),
        ((d.id, d.title, d.value, d.unit, *_edges(d.band_hz)) for d in analysis.descriptors),
    )


def _families(analysis: RecordingAnalysis) -> str:
    header = (
        "bearing", "element", "order", "frequency_hz", "slip_percent",
        "false_alarm_probability", "depth", "depth_whitened", "impact_m_s2", "band_low_hz",
        "band_high_hz", "result", "present", "ambiguous_with", "blind_spot", "evidence",
        "depth_low", "depth_high", "impact_low_m_s2", "impact_high_m_s2", "pattern",
    )  # fmt: skip
    return _text(
        header,
        (
            (
                f.bearing, f.element.value, f.order, f.frequency_hz, f.slip_percent,
                f.false_alarm_probability, f.depth, f.depth_whitened, f.impact_m_s2, *f.band_hz,
                f.result.value, f.present, " ".join(f.ambiguous_with), f.blind_spot,
                f.evidence, *_edges(f.depth_interval), *_edges(f.impact_interval_m_s2), f.pattern,
            )
            for f in analysis.families
        ),
    )  # fmt: skip


def _sensitivity(analysis: RecordingAnalysis) -> str:
    return _text(
        ("bearing", "element", "detectable_depth", "detectable_impact_m_s2", "probability"),
        (
            (s.bearing, s.element.value, s.detectable_depth, s.detectable_impact_m_s2,
             s.probability)
            for s in analysis.sensitivity
        ),
    )  # fmt: skip


def _motion(analysis: RecordingAnalysis) -> str:
    motion = analysis.motion
    if motion is None:
        return _text(("order", "amplitude", "unit", "relative_to_first"), ())
    rows = [(1.0, motion.amplitude_1x, motion.unit, 1.0)]
    rows += [
        (line.order, line.amplitude_m_s2, motion.unit, line.relative_to_first)
        for line in (*motion.harmonics, *motion.half_orders)
    ]
    return _text(("order", "amplitude", "unit", "relative_to_first"), sorted(rows))


def _waveform(analysis: RecordingAnalysis) -> str:
    header = ("time_s", f"acceleration [{analysis.recording.unit}]")
    return _text(
        header,
        zip(analysis.waveform_time_s.tolist(), analysis.waveform.tolist(), strict=True),
    )


def _spectrum(curve: SpectrumCurve) -> str:
    value = f"{curve.kind} [{curve.unit}]"
    frequency_hz, values = curve.frequency_hz.tolist(), curve.values.tolist()
    if curve.order is None:
        return _text(("frequency_hz", value), zip(frequency_hz, values, strict=True))
    rows = zip(frequency_hz, curve.order.tolist(), values, strict=True)
    return _text(("frequency_hz", "order", value), rows)


def _envelope(curve: EnvelopeCurve) -> str:
    kind = "whitened" if curve.band.whitened else "as recorded"
    band = f"{curve.band.low_hz:g} to {curve.band.high_hz:g} Hz, {kind}, {curve.band.detector}"
    rows = zip(curve.order.tolist(), curve.depth.tolist(), curve.floor.tolist(), strict=True)
    return _text(("order", f"modulation depth [1] ({band})", "local floor [1]"), rows)
