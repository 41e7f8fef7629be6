"""An invented machine recorded again and again until its bearing has failed."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np

from vibhealth.card import MachineCard
from vibhealth.errors import SettingsError
from vibhealth.model import Element
from vibhealth.simulate._machine import machine_of
from vibhealth.simulate._ranges import check_range
from vibhealth.simulate.exciter import simulate
from vibhealth.simulate.recording import SimulatedRecording
from vibhealth.simulate.settings import Defect, SimulationSettings

__all__ = ["LifeRecording", "run_to_failure"]

_START = datetime(2031, 3, 10, 8, 0, tzinfo=UTC)
_MOST_RECORDINGS = 999
# From one recording to the next (common practice, no source): speed by slip and mains, the
# housing's temperature, the size of the strikes by load and mount, the background.
_SPEED_SPREAD, _SPEED_LIMIT = 0.004, 0.01
_WARM_C, _WARM_SPREAD_C, _WARM_LIMIT_C = 48.0, 1.2, 3.0
_IMPACT_SPREAD = 0.12
_BACKGROUND_SPREAD = 0.04
# The background grows to this in the last third: a spall that spreads is rough all round
# (common practice, no source).
_LAST_BACKGROUND, _ROUGH_FROM = 4.0, 2 / 3


@dataclass(frozen=True, slots=True, kw_only=True)
class LifeRecording:
    """One recording of a life, with the truth.

    ``index`` counts from 0; ``recorded_at`` is aware of its time zone; ``running_hours_h`` is
    the hour counter, 0 at the first recording; ``impact_m_s2`` is 0 as long as the bearing is
    sound; ``background_ratio`` is the rolling noise over that of the sound machine.
    """

    index: int
    recorded_at: datetime
    running_hours_h: float
    temperature_c: float
    impact_m_s2: float
    background_ratio: float
    simulated: SimulatedRecording

    @property
    def is_damaged(self) -> bool:
        """Whether the bearing has a defect."""
        return self.impact_m_s2 > 0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Life:
    """What was asked for, checked, and what each recording draws from it."""

    card: MachineCard
    element: Element
    bearing: str | None
    n_recordings: int
    interval_days: float
    n_sound: int
    impacts_m_s2: tuple[float, float]
    seed: int
    settings: SimulationSettings
    start_time: datetime
    running_hours_per_day: float

    def recording(self, index: int) -> LifeRecording:
        """Draw and simulate one recording; none depends on those before."""
        draw = np.random.default_rng([self.seed, 3000, index])
        slip = np.clip(_SPEED_SPREAD * draw.standard_normal(), -_SPEED_LIMIT, _SPEED_LIMIT)
        warm_c = _WARM_SPREAD_C * draw.standard_normal()
        jitter, hiss = np.exp(draw.standard_normal(2) * (_IMPACT_SPREAD, _BACKGROUND_SPREAD))
        impact_m_s2 = float(self.impact_m_s2(index) * jitter)
        background = float(self.background(index) * hiss)
        settings = replace(
            self.settings,
            seed=self.seed * (_MOST_RECORDINGS + 1) + index,
            machine_seed=self.seed if (own := self.settings.machine_seed) is None else own,
            speed_rpm=float(machine_of(self.card).speed_rpm(self.settings) * (1 + slip)),
            oil_noise_g_rms=self.settings.oil_noise_g_rms * background,
        )
        days = index * self.interval_days
        return LifeRecording(
            index=index,
            recorded_at=self.start_time + timedelta(days=days),
            running_hours_h=days * self.running_hours_per_day,
            temperature_c=round(_WARM_C + float(np.clip(warm_c, -_WARM_LIMIT_C, _WARM_LIMIT_C)), 1),
            impact_m_s2=impact_m_s2,
            background_ratio=background,
            simulated=simulate(self.card, defects=self.defects(impact_m_s2), settings=settings),
        )

    def defects(self, impact_m_s2: float) -> tuple[Defect, ...]:
        """The growing defect, or none as long as the bearing is sound."""
        if impact_m_s2 == 0:
            return ()
        return (Defect(element=self.element, bearing=self.bearing, impact_m_s2=impact_m_s2),)

    def impact_m_s2(self, index: int) -> float:
        """Strike before its jitter: nothing, then exponential from first to last."""
        if index < self.n_sound:
            return 0.0
        first, last = self.impacts_m_s2
        share = (index - self.n_sound) / (self.n_recordings - 1 - self.n_sound)
        return float(first * (last / first) ** share)

    def background(self, index: int) -> float:
        """Growth of the rolling noise before its jitter."""
        share = index / (self.n_recordings - 1)
        rough = max(0.0, (share - _ROUGH_FROM) / (1 - _ROUGH_FROM))
        return float(_LAST_BACKGROUND**rough)


def run_to_failure(  # noqa: PLR0913 (what a life is made of)
    card: MachineCard,
    *,
    element: Element,
    bearing: str | None = None,
    n_recordings: int = 40,
    interval_days: float = 7.0,
    onset_share: float = 0.35,
    first_impact_m_s2: float = 0.05,
    last_impact_m_s2: float = 20.0,
    seed: int = 1,
    settings: SimulationSettings | None = None,
    start_time: datetime = _START,
    running_hours_per_day: float = 16.0,
) -> Iterator[LifeRecording]:
    r"""Recordings of one invented machine at even intervals until its bearing has failed.

    The bearing is sound up to the onset, then the strikes grow exponentially,

    .. math:: a_i = a_1 \left(a_n / a_1\right)^{(i - s) / (n - 1 - s)}

    with :math:`s` sound recordings and a scatter of 12 %; the rolling noise grows fourfold in
    the last third. Speed (within 1 %), housing temperature (within 3 degC) and all noise
    change from one recording to the next; the machine stays the same. The course is an
    assumption for training and tests (common practice, no source), no law of damage.

    Parameters
    ----------
    card : MachineCard
        The machine; needs a bearing of known load case.
    element : Element
        Part that fails.
    bearing : str or None
        Its bearing; None for the card's first.
    n_recordings : int
        3 to 999; the last is made when the bearing has failed.
    interval_days : float
        Above 0, up to 365.
    onset_share : float
        Share of the recordings that are sound, 0 to 0.95; at least two are not.
    first_impact_m_s2, last_impact_m_s2 : float
        Zero-to-peak strikes at the onset and at failure, above 0, the last above the first.
    seed : int
        At least 0: one seed is one machine and its life.
    settings : SimulationSettings or None
        Of the sound machine; its ``seed`` is not used. None for the defaults.
    start_time : datetime
        Of the first recording, aware of its time zone.
    running_hours_per_day : float
        Above 0, up to 24.

    Returns
    -------
    iterator of LifeRecording
        In the order of time, each simulated when asked for.

    Raises
    ------
    SettingsError
        If a value breaks its rule, at once; as `simulate` for the card.
    """
    if not 3 <= n_recordings <= _MOST_RECORDINGS:
        msg = f"n_recordings must lie between 3 and {_MOST_RECORDINGS}, got {n_recordings}"
        raise SettingsError(msg)
    if seed < 0:
        msg = f"seed must be at least 0, got {seed}"
        raise SettingsError(msg)
    if start_time.tzinfo is None:
        msg = f"start_time must have a time zone, got {start_time.isoformat()}: add an offset"
        raise SettingsError(msg)
    check_range("interval_days", interval_days, 0.0, 365.0, low_allowed=False)
    check_range("onset_share", onset_share, 0.0, 0.95)
    check_range("first_impact_m_s2", first_impact_m_s2, 0.0, 1e5, low_allowed=False)
    check_range("last_impact_m_s2", last_impact_m_s2, first_impact_m_s2, 1e5, low_allowed=False)
    check_range("running_hours_per_day", running_hours_per_day, 0.0, 24.0, low_allowed=False)
    machine_of(card).bearing_of(Defect(element=element, bearing=bearing))
    life = _Life(
        card=card,
        element=element,
        bearing=bearing,
        n_recordings=n_recordings,
        interval_days=interval_days,
        n_sound=min(round(onset_share * n_recordings), n_recordings - 2),
        impacts_m_s2=(first_impact_m_s2, last_impact_m_s2),
        seed=seed,
        settings=settings or SimulationSettings(),
        start_time=start_time,
        running_hours_per_day=running_hours_per_day,
    )
    return (life.recording(index) for index in range(n_recordings))
