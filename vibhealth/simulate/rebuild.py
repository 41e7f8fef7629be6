"""All recordings of the start-up after one invented rebuild."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from vibhealth._check import check_positive
from vibhealth.card import MachineCard
from vibhealth.errors import SettingsError
from vibhealth.model import Element, Moment, Stage
from vibhealth.simulate._machine import machine_of
from vibhealth.simulate.course import Course
from vibhealth.simulate.fault_kinds import FAULTS, FaultPlan, draw_fault
from vibhealth.simulate.faulty import simulate_plan
from vibhealth.simulate.files import write_simulated
from vibhealth.simulate.machine_fault import MachineFault
from vibhealth.simulate.recording import SimulatedRecording
from vibhealth.simulate.settings import Defect, SimulationSettings
from vibhealth.units import m_s2_to_g

__all__ = ["FAULTS", "RebuildRecording", "rebuild_recordings", "write_rebuild"]

_START = datetime(2031, 3, 5, 6, 0, tzinfo=UTC)  # when the invented machine is started
_AS_FOUND = datetime(2031, 3, 3, 7, 30, tzinfo=UTC)
_AFTER = {
    Moment.HOUR_1: timedelta(hours=1),
    Moment.HOUR_8: timedelta(hours=8),
    Moment.HOUR_24: timedelta(hours=24),
    Moment.DAY_7: timedelta(days=7),
}
_BETWEEN = timedelta(minutes=4)  # practice: at least two minutes between recordings
_AMBIENT_C, _WARM_C = 22.0, 48.0
# Where the card gives none (common practice, no source).
_RUN_UP_S, _COAST_DOWN_S = 3.0, 12.0
# Share of a stop by viscous and constant friction that passes until a quarter of the speed.
_QUARTER_SHARE = 0.68
_REST_S, _STEADY_S, _SWING_OUT_S = 10.0, 20.0, 8.0
_SWING_OUT_DECAYS = 5.0  # time constants of the free swing
# From one recording to the next (common practice, no source): speed by slip and load, rolling
# noise with a sensor that was put back.
_SPEED_SPREAD = 0.001
_NOISE_SPREAD = 0.04
# From one machine to the next of the same card (common practice, no source).
_USUAL_SPEED_SHARE = 0.995
_STROKE_SPREAD = 0.015
_HARMONIC_SPREAD = 0.15
_ISOLATOR_SPREAD = 0.03
_FULL_SCALE_G = 50.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RebuildRecording:
    """One recording of a start-up: when it was made, and its samples."""

    stage: Stage
    moment: Moment | None
    name: str
    simulated: SimulatedRecording
    start_time: datetime
    temperature_c: float


def rebuild_recordings(  # noqa: PLR0913 (what a rebuild is made of)
    card: MachineCard,
    *,
    fault: str | None,
    seed: int,
    seconds: float = 30.0,
    sampling_rate_hz: float = 12_800.0,
    checks: Sequence[str] = ("1h",),
    n_recordings: int = 3,
    with_as_found: bool = False,
    with_start_and_stop: bool = True,
) -> tuple[RebuildRecording, ...]:
    """Run-up, steady recordings of each check, and coast-down of one invented rebuild.

    Parameters
    ----------
    card : MachineCard
        The machine.
    fault : str or None
        Mistake, a key of `FAULTS`; None for a good rebuild.
    seed : int
        At least 0: one seed is one machine.
    seconds : float
        Length of each steady recording.
    sampling_rate_hz : float
        Rate of all recordings, above 6200: an inverter may switch at 3100 Hz.
    checks : sequence of str
        Of 1h, 8h, 24h, 7d.
    n_recordings : int
        Steady recordings per check, at least 1.
    with_as_found : bool
        Whether recordings of the old unit, with a worn bearing, come first.
    with_start_and_stop : bool
        Whether run-up and coast-down are recorded.

    Returns
    -------
    tuple of RebuildRecording
        In the order of time.

    Raises
    ------
    SettingsError
        If fault, check or a number breaks its rule.
    """
    check_positive(seconds, name="seconds")
    moments = [_moment(check) for check in checks]
    if n_recordings < 1:
        msg = f"n_recordings must be at least 1, got {n_recordings}"
        raise SettingsError(msg)
    plan = draw_fault(card, fault=fault, seed=seed)
    maker = _Maker(
        card=card, plan=plan, seed=seed, seconds=seconds, sampling_rate_hz=sampling_rate_hz
    )
    made = maker.as_found(n_recordings) if with_as_found else []
    if with_start_and_stop:
        made.append(maker.run_up())
    for moment in moments:
        made += [maker.steady(moment, number) for number in range(n_recordings)]
    if with_start_and_stop:
        made.append(maker.coast_down(moments[-1] if moments else None, n_recordings))
    return tuple(made)


def write_rebuild(recordings: Sequence[RebuildRecording], folder: str | Path) -> tuple[Path, ...]:
    """Write a rebuild as 24-bit FLAC with sidecars, into as-found/ and as-left/<moment>/.

    Parameters
    ----------
    recordings : sequence of RebuildRecording
        Result of `rebuild_recordings`.
    folder : str or Path
        Made if it does not exist.

    Returns
    -------
    tuple of Path
        The recordings.

    Raises
    ------
    OutputError
        If a file exists or cannot be written.
    """
    written = []
    for item in recordings:
        place = Path(folder) / item.stage.value
        if item.moment is not None:
            place /= item.moment.value
        place.mkdir(parents=True, exist_ok=True)
        facts = {
            "start_time": item.start_time,
            "temperature_c": item.temperature_c,
            "load": "empty",
        }
        largest_g = m_s2_to_g(float(np.max(np.abs(item.simulated.samples))))
        full_scale_g = _FULL_SCALE_G
        while full_scale_g < largest_g:
            full_scale_g *= 2
        path = place / f"{item.name}.flac"
        written.append(
            write_simulated(
                path, item.simulated, form="flac", full_scale_g=full_scale_g, sidecar=facts
            )
        )
    return tuple(written)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Maker:
    """One invented machine, recorded again and again."""

    card: MachineCard
    plan: FaultPlan
    seed: int
    seconds: float
    sampling_rate_hz: float

    def run_up(self) -> RebuildRecording:
        """The first start."""
        course = Course(rest_s=_REST_S, run_up_s=self._ramps()[0], steady_s=_STEADY_S)
        return self._start_or_stop(Moment.RUN_UP, course, _START, _AMBIENT_C)

    def coast_down(self, after: Moment | None, n_recordings: int) -> RebuildRecording:
        """The stop after the last check, until the body stands still on soft isolators too."""
        isolator = machine_of(self.card).isolator(self._good_machine())
        decay_s = 1 / (2 * np.pi * isolator.frequency_hz * isolator.damping_ratio)
        course = Course(
            rest_s=0.0,
            run_up_s=0.0,
            steady_s=_REST_S,
            coast_down_s=self._ramps()[1],
            rest_after_s=max(_SWING_OUT_S, _SWING_OUT_DECAYS * decay_s),
        )
        late = timedelta(0) if after is None else _AFTER[after]
        start = _START + late + (n_recordings + 1) * _BETWEEN
        return self._start_or_stop(Moment.COAST_DOWN, course, start, self._warm_c(n_recordings))

    def steady(self, moment: Moment, number: int) -> RebuildRecording:
        """Recording ``number`` of a check."""
        count = list(_AFTER).index(moment) * 100 + number + 1
        return RebuildRecording(
            stage=Stage.AS_LEFT,
            moment=moment,
            name=f"{moment.value}-{number + 1}",
            simulated=self._simulated(count, growth=self.plan.noise_growth**number),
            start_time=_START + _AFTER[moment] + number * _BETWEEN,
            temperature_c=self._warm_c(number),
        )

    def as_found(self, n_recordings: int) -> list[RebuildRecording]:
        """Recordings of the old unit: a spalled outer ring, somewhat rough."""
        spall = [Defect(element=Element.OUTER_RING, impact_m_s2=6.0)] if self.card.bearings else []
        worn = replace(self, plan=FaultPlan(defects=tuple(spall)))
        return [
            RebuildRecording(
                stage=Stage.AS_FOUND,
                moment=None,
                name=f"as-found-{number + 1}",
                simulated=worn._simulated(900 + number, growth=1.5),
                start_time=_AS_FOUND + number * _BETWEEN,
                temperature_c=_WARM_C + 2.0,
            )
            for number in range(n_recordings)
        ]

    def _start_or_stop(
        self, moment: Moment, course: Course, start: datetime, temperature_c: float
    ) -> RebuildRecording:
        count = 0 if moment is Moment.RUN_UP else 999
        return RebuildRecording(
            stage=Stage.AS_LEFT,
            moment=moment,
            name=moment.value,
            simulated=self._simulated(count, course=course),
            start_time=start,
            temperature_c=temperature_c,
        )

    def _simulated(
        self, count: int, *, growth: float = 1.0, course: Course | None = None
    ) -> SimulatedRecording:
        """Recording ``count``: what changes from one to the next comes after the mistake."""
        now = self._rng(1, count)
        changed = self.plan.applied_to(self._good_machine())
        usual_rpm = _USUAL_SPEED_SHARE * self.card.machine.nominal_speed_rpm
        slip = 1 + _SPEED_SPREAD * now.standard_normal()
        noise = growth * np.exp(_NOISE_SPREAD * now.standard_normal())
        settings = replace(
            changed,
            seed=self.seed * 1000 + count,
            speed_rpm=float((changed.speed_rpm or usual_rpm) * slip),
            oil_noise_g_rms=float(changed.oil_noise_g_rms * noise),
        )
        rest = replace(self.plan, settings={})
        return simulate_plan(self.card, plan=rest, settings=settings, course=course)

    def _good_machine(self) -> SimulationSettings:
        """The machine with nothing wrong: a little off the card, as all are."""
        draw, usual = self._rng(0), SimulationSettings()
        nyquist_hz = self.sampling_rate_hz / 2
        strokes = 1 + _STROKE_SPREAD * draw.standard_normal(3)
        harmonics = np.exp(_HARMONIC_SPREAD * draw.standard_normal(len(usual.harmonic_ratios)))
        return replace(
            usual,
            machine_seed=self.seed,
            duration_s=self.seconds,
            sampling_rate_hz=self.sampling_rate_hz,
            resonances=tuple(r for r in usual.resonances if r.frequency_hz < nyquist_hz),
            harmonic_ratios=tuple(float(v) for v in usual.harmonic_ratios * harmonics),
            isolator_damping_ratio=float(draw.uniform(0.035, 0.07)),
            fault=MachineFault(
                stroke_factor=dict(zip("xyz", strokes.tolist(), strict=True)),
                base_gain=float(np.exp(_HARMONIC_SPREAD * draw.standard_normal())),
                isolator_factor=float(1 + _ISOLATOR_SPREAD * draw.standard_normal()),
            ),
        )

    def _ramps(self) -> tuple[float, float]:
        """Time to speed and to standstill of the machine when all is well."""
        exciter = self.card.exciter
        run_up_s = (exciter and exciter.run_up_s) or _RUN_UP_S
        to_quarter_s = exciter and exciter.coast_down_s
        coast_down_s = to_quarter_s / _QUARTER_SHARE if to_quarter_s else _COAST_DOWN_S
        scatter = 1 + 0.04 * self._rng(2).standard_normal(2)
        return float(run_up_s * scatter[0]), float(coast_down_s * scatter[1])

    def _warm_c(self, number: int) -> float:
        """Housing temperature: levelling off, unless the mistake heats it."""
        spread = float(self._rng(3).normal(0.0, 2.0))
        rise = self.plan.temperature_rise_c
        levelling = 0.4 * (1 - 0.5**number)
        heating = rise * (1 + 0.15 * number)
        return round(_WARM_C + spread + levelling + heating, 1)

    def _rng(self, *what: int) -> np.random.Generator:
        return np.random.default_rng([self.seed, 2000, *what])


def _moment(check: str) -> Moment:
    known: Mapping[str, Moment] = {moment.value: moment for moment in _AFTER}
    if check not in known:
        msg = f"checks must be of {', '.join(known)}, got {check!r}"
        raise SettingsError(msg)
    return known[check]
