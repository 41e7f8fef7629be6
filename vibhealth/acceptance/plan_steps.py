"""The order of events of a recording plan, and the words that go with it."""

from dataclasses import dataclass

from vibhealth.acceptance.plan_settings import RecorderSettings
from vibhealth.card import Limits, MachineCard
from vibhealth.model import Moment, Stage

__all__ = ["STEADY_RULES", "WRITE_DOWN", "PlanStep", "plan_steps", "stop_signs"]

# Seconds recorded before a start or a stop, and after full speed; common practice, no source.
BEFORE_S, AFTER_START_S = 10, 60
# After a quarter of the speed: the last turns, and the free swing on soft, weakly damped isolators.
AFTER_STOP_S = 20

# One every ten minutes, from the start to an hour after it.
READINGS = 7

# How every steady recording is made. Common practice, no source.
STEADY_RULES = (
    "Steady recordings: warm, empty unless told otherwise, at normal speed, guard on, doors closed, "
    "at least 2 min apart. A sensor that is not on a stud is taken off and put back once in "
    "between: stop and lock out for it."
)

# (what, whether the decision needs it). Common practice, no source.
WRITE_DOWN: tuple[tuple[str, bool], ...] = (
    ("machine, serial number of the unit, designation of the bearings", True),
    ("point and direction of each channel; sensor serial, sensitivity and unit, range", True),
    ("sampling rate; date and time of each start of a recording", True),
    ("before or after the rebuild; after how many hours of running", True),
    ("empty or loaded", True),
    ("temperature of the housing (always the same spot) and of the air", True),
    ("who recorded", True),
    ("who removed the shipping braces, and how many", False),
    ("speed on the plate, setting of the eccentric; drive, its frequency where an inverter", False),
    ("oil: grade, litres; bolts: lot; torque wrench: number", False),
    ("hours since the last rebuild; noises in plain words; anything odd", False),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanStep:
    """One event of the plan.

    ``folder`` is where its recordings go in a job; empty where nothing is recorded. ``seconds``
    is None where the machine decides how long it takes. ``to_do`` are things to tick,
    ``readings`` is how many temperatures are to be noted.
    """

    title: str
    when: str
    folder: str
    recordings: int
    seconds: int | None
    turns: float | None
    to_do: tuple[str, ...]
    readings: int = 0


def plan_steps(card: MachineCard, settings: RecorderSettings) -> tuple[PlanStep, ...]:
    """All events from before the rebuild to seven days after it.

    Parameters
    ----------
    card : MachineCard
        Starts and stops are planned for a machine with an exciter only.
    settings : RecorderSettings
        Length and number of the recordings.

    Returns
    -------
    tuple of PlanStep
        In the order of time.
    """
    starts_and_stops = card.exciter is not None
    found, left = Stage.AS_FOUND.value, Stage.AS_LEFT.value
    steps = [
        _steady(
            "Before the rebuild, warm and empty",
            "before anything is loosened, after 30 to 60 min of running; only if it is safe to run",
            found,
            settings,
            "Walk round once: heat, noise, leaks by hand and eye; note them.",
        ),
        PlanStep(
            title="Before the rebuild, loaded",
            when="with its usual feed; extra, it decides nothing",
            folder=found,
            recordings=1,
            seconds=settings.seconds,
            turns=settings.turns,
            to_do=("Write loaded beside this recording (load in its sidecar).",),
        ),
        *([_coast_down(card, found, "Before the rebuild, stop")] if starts_and_stops else []),
        *([_run_up(card, left)] if starts_and_stops else []),
        _run_in(),
        _steady(
            "Decision at 1 hour",
            "30, better 60 min after the start, temperature levelled (below 1 °C in 10 min)",
            f"{left}/{Moment.HOUR_1.value}",
            settings,
            "Same points, same sensors, same settings as before the rebuild.",
        ),
        *([_coast_down(card, left, "Stop after the first hour")] if starts_and_stops else []),
        *(_later(moment, words, left, settings) for moment, words in _LATER),
    ]
    return tuple(steps)


_LATER = (
    (Moment.HOUR_8, "8 hours"),
    (Moment.HOUR_24, "24 hours"),
    (Moment.DAY_7, "7 days"),
)


def _steady(title: str, when: str, folder: str, settings: RecorderSettings, first: str) -> PlanStep:
    return PlanStep(
        title=title,
        when=when,
        folder=folder,
        recordings=settings.recordings,
        seconds=settings.seconds,
        turns=settings.turns,
        to_do=(first, "The first recording is usable: vibhealth inspect RECORDING --card CARD"),
    )


def _later(moment: Moment, words: str, stage: str, settings: RecorderSettings) -> PlanStep:
    more = "Look first, locked out: leaks, level, paint lines."
    if moment in {Moment.HOUR_24, Moment.DAY_7}:
        more += " The 24 h and the 7 day set together become the machine's own reference."
    return _steady(
        f"{words} after the start", "warm and empty", f"{stage}/{moment.value}", settings, more
    )


def _run_up(card: MachineCard, stage: str) -> PlanStep:
    takes = None if card.exciter is None else card.exciter.run_up_s
    seconds = None if takes is None else round(BEFORE_S + takes + AFTER_START_S)
    return PlanStep(
        title="First start",
        when="the recorder runs before power comes on",
        folder=f"{stage}/{Moment.RUN_UP.value}",
        recordings=1,
        seconds=seconds,
        turns=None,
        to_do=(
            "One person at the stop, everybody else clear, guard on, machine empty.",
            (
                f"Start the recorder {BEFORE_S} s before power-up; let it run until "
                f"{AFTER_START_S} s at full speed."
            ),
            "Watch for the signs to stop at once.",
        ),
    )


def _run_in() -> PlanStep:
    return PlanStep(
        title="Run in, empty",
        when="30 to 60 min",
        folder="",
        recordings=0,
        seconds=None,
        turns=None,
        to_do=("Every 10 min: time, housing and air temperature, always at the same spot.",),
        readings=READINGS,
    )


def _coast_down(card: MachineCard, stage: str, title: str) -> PlanStep:
    takes = None if card.exciter is None else card.exciter.coast_down_s
    seconds = None if takes is None else round(BEFORE_S + takes + AFTER_STOP_S)
    return PlanStep(
        title=title,
        when="at the next stop, empty",
        folder=f"{stage}/{Moment.COAST_DOWN.value}",
        recordings=1,
        seconds=seconds,
        turns=None,
        to_do=(
            f"Start the recorder {BEFORE_S} s before the stop; let it run until all stands still.",
            "Nobody reaches into the coasting machine.",
            "Then lock out, tag, try; look for leaks, scraped paint, loose bolts.",
            *(("PASS or HOLD: vibhealth accept JOB",) if stage == Stage.AS_LEFT.value else ()),
        ),
    )


def stop_signs(limits: Limits) -> tuple[str, ...]:
    """What to stop and lock out for at once, during the first start and after it.

    Parameters
    ----------
    limits : Limits
        In force: temperature and its climb.

    Returns
    -------
    tuple of str
    """
    hot, climb = (
        limits.value("temperature_hold_c"),
        limits.value("temperature_climb_hold_c_per_min"),
    )
    return (
        "metal knocking on metal",
        "anything touching guard or stop",
        "smoke, smell of hot oil or rubber",
        "oil running",
        "stroke visibly wrong, or the machine walking",
        "motor trips, or does not reach speed",
        f"housing above {hot:g} °C",
        f"housing climbing faster than {climb:g} °C per minute after the first ten minutes",
    )
