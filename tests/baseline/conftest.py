"""Patterns, analyses and baselines of an invented point, written down and not computed."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest

from vibhealth.baseline import (
    Baseline,
    Conditions,
    FamilyReading,
    FamilyStatistic,
    OrbitReading,
    Range,
    Scalar,
    SourceRecording,
    SpectrumStatistic,
    Status,
)
from vibhealth.card import MachineCard
from vibhealth.model import (
    Calibration,
    CriterionResult,
    Descriptor,
    Element,
    FamilyFinding,
    Moment,
    Motion,
    PatternKind,
    PatternSpectrum,
    PointPattern,
    QualityFinding,
    Recording,
    RecordingAnalysis,
    SensitivityFinding,
    Speed,
    Stage,
)
from vibhealth.signal.order_lines import ORDER_SPACING, order_floor

SHAFT_HZ = 16.0
RATE_HZ = 8000.0
BAND_HZ = (1000.0, 3900.0)
MADE_AT = datetime(2026, 3, 2, 9, 30, 15, tzinfo=UTC)
KINDS: tuple[PatternKind, ...] = (
    "order-spectrum",
    "envelope-spectrum",
    "whitened-envelope-spectrum",
)


def _spectrum(
    rng: np.random.Generator | list[int] | int = 0,
    *,
    kind: PatternKind = "order-spectrum",
    n_averages: float = 20.0,
    highest_order: float = 40.0,
    lines: Mapping[float, float] | None = None,
    gain: float = 1.0,
    is_floor_known: bool = False,
    **changes: Any,
) -> PatternSpectrum:
    """Noise of mean square ``gain ** 2`` in each line, with lines so many dB over it."""
    order = np.round(np.arange(5, round(highest_order / ORDER_SPACING) + 1) * ORDER_SPACING, 2)
    power = np.random.default_rng(rng).gamma(n_averages, 1 / n_averages, order.size)
    for at, level_db in (lines or {}).items():
        power[np.argmin(np.abs(order - at))] = 10 ** (level_db / 10)
    floor = np.ones(order.size) if is_floor_known else order_floor(power, n_averages)
    is_envelope = kind != "order-spectrum"
    spectrum = PatternSpectrum(
        kind=kind,
        unit="1" if is_envelope else "m/s2",
        order=order,
        amplitude=gain * np.sqrt(power),
        floor=gain * np.sqrt(floor),
        n_averages=n_averages,
        band_hz=BAND_HZ if is_envelope else None,
    )
    return replace(spectrum, **changes)


@pytest.fixture(scope="session")
def make_spectrum() -> Callable[..., PatternSpectrum]:
    """A spectrum of noise: each line follows the gamma law of a mean of exponential values."""
    return _spectrum


def _flat(
    *,
    n_recordings: int = 3,
    spread_db: float | None = None,
    lines: Mapping[float, float] | None = None,
    highest_order: float = 40.0,
    **changes: Any,
) -> SpectrumStatistic:
    order = np.round(np.arange(5, round(highest_order / ORDER_SPACING) + 1) * ORDER_SPACING, 2)
    above = np.zeros(order.size)
    for at, level_db in (lines or {}).items():
        above[np.argmin(np.abs(order - at))] = level_db
    facts: dict[str, Any] = {
        "kind": "order-spectrum",
        "unit": "m/s2",
        "order": order,
        "amplitude": 10 ** (above / 20),
        "above_floor_db": above,
        "spread_db": None if spread_db is None else np.full(order.size, spread_db),
        "n_averages": 20.0,
        "n_recordings": n_recordings,
    }
    return SpectrumStatistic(**facts | changes)


@pytest.fixture(scope="session")
def make_flat() -> Callable[..., SpectrumStatistic]:
    """A baseline's spectrum that lies on its floor of 1, but for the lines given in dB."""
    return _flat


def _card(**changes: Any) -> MachineCard:
    table: dict[str, Any] = {
        "schema_version": 1,
        "machine": {"id": "F3", "name": "Deck feeder F3", "nominal_speed_rpm": 60 * SHAFT_HZ},
        "bearing": [
            {
                "name": "upper",
                "element_count": 9,
                "element_diameter_mm": 7.94,
                "pitch_diameter_mm": 39.04,
                "load_case": "rotating",
            }
        ],
        "sensor": [
            {
                "name": "A1",
                "serial": "4711",
                "mount": "stud",
                "sensitivity_mv_per_g": 100.0,
                "full_scale_v": 5.0,
                "range_g": 50.0,
                "usable_hz": [1.0, 4000.0],
            }
        ],
        "point": [{"name": "P1X", "direction": "x", "sensor": "A1", "channel": 1}],
        "analysis": {"bearing_band_hz": list(BAND_HZ)},
    }
    return MachineCard.model_validate(table | changes)


@pytest.fixture(scope="session")
def make_card() -> Callable[..., MachineCard]:
    """The card of F3 with tables exchanged."""
    return _card


def _family(
    element: Element = Element.OUTER_RING, *, depth: float = 0.02, **changes: Any
) -> FamilyFinding:
    facts: dict[str, Any] = {
        "bearing": "upper",
        "element": element,
        "order": 3.5812345678,
        "frequency_hz": 3.5812345678 * SHAFT_HZ,
        "slip_percent": 0.31,
        "false_alarm_probability": 0.4,
        "depth": 1.5 * depth,
        "depth_whitened": depth,
        "impact_m_s2": 0.25,
        "band_hz": BAND_HZ,
        "result": CriterionResult.HOLD if depth >= 0.3 else CriterionResult.PASS,
        "present": depth >= 0.3,
    }
    return FamilyFinding(**facts | changes)


@pytest.fixture(scope="session")
def make_family() -> Callable[..., FamilyFinding]:
    """A finding of the outer ring of a whitened depth."""
    return _family


def _pattern(seed: int, **changes: Any) -> PointPattern:
    """All three spectra up to 4x; 3x does not stand out in any, 5x only in the first two."""
    harmonics = np.linspace(-20.0, -36.0, 9) + 0.1 * seed
    harmonics[1] = np.nan
    if seed > 2:
        harmonics[3] = np.nan
    known: dict[str, Any] = {
        "spectra": tuple(
            _spectrum([seed, i], kind=k, highest_order=4.0) for i, k in enumerate(KINDS)
        ),
        "harmonics_db": harmonics,
        "bands_centre_hz": np.array([250.0, 353.5534, 500.0]),
        "bands_db": np.array([-40.0, -41.0, -39.0]) + seed,
    }
    return PointPattern(**known | changes)


@pytest.fixture(scope="session")
def make_pattern() -> Callable[..., PointPattern]:
    """The pattern of recording ``seed``."""
    return _pattern


def _analysis(number: int = 1, *, level: float = 1.0, **changes: Any) -> RecordingAnalysis:
    """Recording ``number`` of P1X; changes are facts of the recording, or of the analysis."""
    recording: dict[str, Any] = {
        "samples": np.arange(4000) * 1.0 + 100 * number,
        "sampling_rate_hz": RATE_HZ,
        "unit": "m/s2",
        "path": f"/records/7d/P1X_{number}.wav",
        "sha256": f"{number:064x}",
        "point": "P1X",
        "direction": "x",
        "stage": Stage.AS_LEFT,
        "moment": Moment.DAY_7,
        "calibration": Calibration(scale_m_s2=1.0, source="sidecar"),
        "start_time": datetime(2026, 3, 2, 8, number, tzinfo=UTC),
        "temperature_c": 47.0 + number,
        "remarks": (("load", "empty"),),
    }
    known: dict[str, Any] = {
        "speed": Speed(
            shaft_frequency_hz=SHAFT_HZ + 0.01 * number,
            variation_percent=0.05,
            source="recording",
            detail="told by the recording",
        ),
        "quality": (
            QualityFinding(
                id="clipping", title="Clipping", result=CriterionResult.PASS, detail="None."
            ),
        ),
        "descriptors": (
            Descriptor(
                id="bearing-band-block-median",
                title="median rms of blocks",
                value=level / 3,
                unit="m/s2",
                band_hz=BAND_HZ,
            ),
            Descriptor(id="residual-rms", title="rms, residual", value=3.0 + number, unit="m/s2"),
        ),
        "motion": Motion(
            amplitude_1x=31.4,
            phase_1x_rad=0.0,
            unit="m/s2",
            stroke_mm=6.0 + 0.01 * number,
            harmonics=(),
            half_orders=(),
            harmonic_ratio=0.05,
            half_order_ratio=0.001,
        ),
        "families": tuple(_family(element) for element in Element),
        "families_not_judged": "",
        "sensitivity": (
            SensitivityFinding(
                bearing="upper",
                element=Element.OUTER_RING,
                detectable_depth=0.1 + 0.01 * number,
                detectable_impact_m_s2=0.5,
                probability=0.95,
            ),
            SensitivityFinding(
                bearing="upper",
                element=Element.CAGE,
                detectable_depth=np.inf,
                detectable_impact_m_s2=None,
                probability=0.95,
            ),
        ),
        "spectra": (),
        "envelopes": (),
        "waveform_time_s": np.zeros(0),
        "waveform": np.zeros(0),
        "pattern": _pattern(number),
    }
    own = {key: changes[key] for key in changes.keys() & known.keys()}
    own |= {key: changes[key] for key in changes.keys() & {"masked"}}
    of_recording = {key: changes[key] for key in changes.keys() - own.keys()}
    return RecordingAnalysis(recording=Recording(**recording | of_recording), **known | own)


@pytest.fixture(scope="session")
def make_analysis() -> Callable[..., RecordingAnalysis]:
    """An analysis that makes a good baseline unless told otherwise; ``number`` tells them apart."""
    return _analysis


def _scalar(*values: float | None, **changes: Any) -> Scalar:
    facts: dict[str, Any] = {"id": "level", "title": "level", "unit": "m/s2", "values": values}
    return Scalar(**facts | changes)


@pytest.fixture(scope="session")
def make_scalar() -> Callable[..., Scalar]:
    """A level of these values."""
    return _scalar


@pytest.fixture(scope="session")
def make_conditions() -> Callable[..., Conditions]:
    """Conditions of F3 at 48 degrees, empty, on a stud."""

    def make(**changes: Any) -> Conditions:
        facts: dict[str, Any] = {
            "shaft_frequency_hz": Range(low=SHAFT_HZ - 0.5, high=SHAFT_HZ + 0.5),
            "sampling_rate_hz": RATE_HZ,
            "unit": "m/s2",
            "temperature_c": Range(low=46.0, high=50.0),
            "load": "empty",
            "direction": "x",
            "sensor": "A1 (serial 4711)",
            "mount": "stud",
        }
        return Conditions(**facts | changes)

    return make


def _baseline(**changes: Any) -> Baseline:
    """Three recordings; every field holds something, and texts hold what breaks formats."""
    rng = np.random.default_rng(11)

    def numbers(size: int) -> Any:
        return np.array([float(f"{x:.7g}") for x in rng.normal(-3.0, 9.0, size)])

    def statistic(kind: PatternKind) -> SpectrumStatistic:
        drawn = _spectrum(rng, kind=kind, highest_order=1.0)
        size = drawn.order.size
        return SpectrumStatistic(
            kind=kind,
            unit=drawn.unit,
            order=drawn.order,
            amplitude=np.abs(numbers(size)) * 1e-3,
            above_floor_db=numbers(size),
            spread_db=np.abs(numbers(size)),
            n_averages=8.571429,
            n_recordings=3,
            band_hz=drawn.band_hz,
        )

    sources = tuple(
        SourceRecording(
            name=f'7d/Prüfling {number}, "links".wav',
            sha256=f"{number:064x}",
            duration_s=60.00012,
            shaft_frequency_hz=16.0 + number / 7,
            start_time=datetime(2026, 3, 2, 8, number, tzinfo=UTC) if number > 1 else None,
            temperature_c=47.25 if number > 1 else None,
            moment=Moment.DAY_7 if number > 1 else None,
        )
        for number in (1, 2, 3)
    )
    facts: dict[str, Any] = {
        "machine_id": "F3",
        "machine_name": "Förderrinne „F3“\\ \t2",
        "point": "P1X",
        "status": Status.KNOWN_GOOD,
        "made_at": MADE_AT,
        "accepted_by": "Jürgen O'Hara",
        "note": 'he said: "it runs",\nand it does',
        "flags": ("the housing was between 40 and 47 °C", 'a "second", flag'),
        "conditions": Conditions(
            shaft_frequency_hz=Range(low=16.14286, high=16.42857),
            sampling_rate_hz=RATE_HZ,
            unit="m/s2",
            temperature_c=Range(low=40.1, high=47.25),
            load="empty",
            direction="x",
            sensor="A1 (serial 4711)",
            mount="stud",
        ),
        "recordings": sources,
        "scalars": (
            _scalar(1.1, 1 / 3, 2.7e-9, id="a", title='rms, "all"', band_hz=(1000.0, 3900.5)),
            _scalar(1.0, None, 3.0, id="b", title="Größe", unit="mm"),
            _scalar(None, None, None, id="c", title="nothing", unit="1"),
        ),
        "families": (
            FamilyStatistic(
                bearing="oben, links",
                element=Element.OUTER_RING,
                readings=(
                    FamilyReading(
                        recording=1,
                        order=3.581235,
                        slip_percent=-0.31,
                        false_alarm_probability=1.5e-12,
                        depth=0.1 / 3,
                        depth_whitened=0.04,
                        impact_m_s2=None,
                        result="pass",
                    ),
                    FamilyReading(
                        recording=3,
                        order=3.58,
                        slip_percent=0.0,
                        false_alarm_probability=1.0,
                        depth=0.03,
                        depth_whitened=0.01,
                        impact_m_s2=0.25,
                        result="watch",
                    ),
                ),
            ),
        ),
        "spectra": tuple(statistic(kind) for kind in KINDS),
        "harmonics_db": np.array([-20.5, np.nan, -31.25, *numbers(6)]),
        "bands_centre_hz": np.array([250.0, 353.5534, 500.0]),
        "bands_db": numbers(3),
        "bands_spread_db": np.abs(numbers(3)),
        "orbit": OrbitReading(
            points=("P1X", "P1Y"),
            major_mm=3.01,
            minor_mm=2.99,
            tilt_deg=-12.5,
            direction="counter-clockwise",
        ),
        "detectable_depths": (("oben, links", Element.OUTER_RING, 0.05),),
        "label": "INVENTED",
    }
    return Baseline(**facts | changes)


@pytest.fixture(scope="session")
def make_baseline() -> Callable[..., Baseline]:
    """A baseline in which every field holds something."""
    return _baseline
