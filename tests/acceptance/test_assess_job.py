"""A whole job through the chain: what decides at which check, and what a half-filled one says."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from tests.remembered import remembered_analyses
from vibhealth.acceptance import assess_job
from vibhealth.acceptance.assess_job import check_of
from vibhealth.acceptance.job_course import override_of
from vibhealth.card import MachineCard, card_template, read_card
from vibhealth.job import JobRecord, Override, Phase, filled_record, read_job
from vibhealth.model import Assessment, Hold, Moment, Recording, Stage, Verdict
from vibhealth.simulate import rebuild_recordings

STARTED = datetime(2031, 3, 5, 6, 0, tzinfo=UTC)
RATE_HZ, SECONDS = 8000.0, 26.0


@pytest.fixture(scope="module", autouse=True)
def _analysed_once() -> Iterator[None]:
    """The same recordings under several records: what is judged here is the job."""
    with remembered_analyses():
        yield


@pytest.fixture(scope="module")
def card(tmp_path_factory: pytest.TempPathFactory) -> MachineCard:
    """Deck feeder F3 with a band that a low rate can hold, and one point."""
    text = card_template().replace("[1000.0, 10000.0]", "[1000.0, 3900.0]", 1)
    text = text.replace("stroke_mm = { x = 6.0, y = 6.0 }", "stroke_mm = { x = 6.0 }", 1)
    head, _, rest = text.partition('[[point]]\nname = "P1Y"')
    text = head + "[analysis]" + rest.partition("[analysis]")[2]
    text = text.replace("bearing_band_hz = [1000.0, 10000.0]", "bearing_band_hz = [1000.0, 3900.0]")
    path = tmp_path_factory.mktemp("card") / "F3.toml"
    path.write_text(text, "utf-8")
    return read_card(path)


@pytest.fixture(scope="module")
def recorded(card: MachineCard) -> Callable[..., list[Recording]]:
    """Recordings of a rebuild, as they would be read from its folders."""

    def make(fault: str | None = None, checks: tuple[str, ...] = ("1h",)) -> list[Recording]:
        made = rebuild_recordings(
            card, fault=fault, seed=5, seconds=SECONDS, sampling_rate_hz=RATE_HZ, checks=checks
        )
        return [
            Recording(
                samples=item.simulated.samples[0],
                sampling_rate_hz=RATE_HZ,
                unit="m/s2",
                path=f"{item.stage.value}/{item.name}.flac",
                sha256=item.name,
                point="P1X",
                direction="x",
                stage=item.stage,
                moment=item.moment,
                start_time=item.start_time,
                temperature_c=item.temperature_c,
                remarks=(("load", "empty"),),
            )
            for item in made
        ]

    return make


@pytest.fixture(scope="module")
def job_until(card: MachineCard) -> Callable[[Phase], JobRecord]:
    def make(until: Phase) -> JobRecord:
        folder = Path(card.path).parent
        text = filled_record(card, by="A. Fitter", at=STARTED, until=until)
        (folder / "job.toml").write_text(text, "utf-8")
        return read_job(folder)

    return make


@pytest.fixture(scope="module")
def good(
    card: MachineCard,
    recorded: Callable[..., list[Recording]],
    job_until: Callable[[Phase], JobRecord],
) -> Assessment:
    return assess_job(job_until(Phase.HOUR_1), recorded(), card=card)


def test_a_good_rebuild_passes_its_first_check(good: Assessment) -> None:
    assert good.verdict is Verdict.PASS, good.reasons
    assert good.job is not None
    assert good.job["check"] == "1h"
    assert good.next_step.check_at.startswith("At 8 h of running (2031-03-05 14:00), then at 24 h")
    assert good.next_step.action.startswith("Hand the machine back.")
    assert "Recordings and the record of the work by hand" in good.scope
    kinds = {transient.kind for item in good.transients for transient in item.transients}
    assert kinds == {"run-up", "coast-down"}


def test_the_latest_check_decides_and_the_one_before_is_compared(
    card: MachineCard,
    recorded: Callable[..., list[Recording]],
    job_until: Callable[[Phase], JobRecord],
) -> None:
    recordings = recorded(checks=("1h", "8h"))
    assessment = assess_job(job_until(Phase.HOUR_8), recordings, card=card)
    assert assessment.job is not None
    assert assessment.job["check"] == "8h"
    assert "bearing-band-since-last-check" in {item.id for item in assessment.criteria}
    assert assessment.verdict is Verdict.PASS, assessment.reasons
    count = next(item for item in assessment.criteria if item.id == "recording-count")
    assert count.value == 3.0


def test_nothing_recorded_is_a_hold_that_says_so(
    card: MachineCard, job_until: Callable[[Phase], JobRecord]
) -> None:
    assessment = assess_job(job_until(Phase.HOUR_1), [], card=card)
    assert assessment.hold is Hold.MEASURE_AGAIN
    assert "There is no recording of the running machine after the rebuild." in assessment.reasons
    assert any("start was not recorded" in reason for reason in assessment.reasons)


def test_two_recordings_are_too_few_and_a_missing_stop_is_not_judged(
    card: MachineCard,
    recorded: Callable[..., list[Recording]],
    job_until: Callable[[Phase], JobRecord],
) -> None:
    fewer = [
        item
        for item in recorded()
        if item.moment is not Moment.COAST_DOWN and not item.path.endswith("1h-3.flac")
    ]
    assessment = assess_job(job_until(Phase.HOUR_1), fewer, card=card)
    by_id = {item.id: item for item in assessment.criteria}
    assert by_id["recording-count"].result.value == "hold"
    assert by_id["coast-down-recorded"].result.value == "not-judged"
    assert assessment.hold is Hold.MEASURE_AGAIN


def test_what_was_not_answered_holds_a_clean_machine(
    card: MachineCard,
    recorded: Callable[..., list[Recording]],
    job_until: Callable[[Phase], JobRecord],
) -> None:
    assessment = assess_job(job_until(Phase.STRIP), recorded(), card=card)
    assert assessment.hold is Hold.MEASURE_AGAIN
    assert any(reason.startswith("NOT CHECKED") for reason in assessment.reasons)


def _overridden(job: JobRecord, by: str, reason: str) -> JobRecord:
    return job.model_copy(update={"override": Override(by=by, reason=reason)})


def test_an_override_is_printed_and_changes_no_verdict(
    card: MachineCard, job_until: Callable[[Phase], JobRecord]
) -> None:
    job = _overridden(job_until(Phase.HOUR_1), "B. Engineer", "spare arrives tonight")
    assessment = assess_job(job, [], card=card)
    assert assessment.verdict is Verdict.HOLD
    assert assessment.override is not None
    assert assessment.override.is_valid  # nothing was recorded that it could not know of
    assert assessment.override.sentence == "Overridden by B. Engineer: spare arrives tonight"


@pytest.mark.parametrize(
    ("hours", "is_valid"), [(-1.0, False), (1.0, True), (None, False)], ids=str
)
def test_an_override_covers_no_recording_made_after_it(
    job_until: Callable[[Phase], JobRecord], hours: float | None, is_valid: bool
) -> None:
    newest = STARTED + timedelta(hours=24)
    at = None if hours is None else newest + timedelta(hours=hours)
    given = Override(by="B. Engineer", reason="cover rattles, known", at=at)
    job = job_until(Phase.HOUR_1).model_copy(update={"override": given})
    release = override_of(job, Hold.FIX, newest=newest)
    assert release is not None
    assert release.is_valid is is_valid
    if not is_valid:
        assert "before these recordings" in release.sentence


@pytest.mark.parametrize(("by", "reason"), [("", "no time"), ("B. Engineer", " ")])
def test_an_override_without_name_or_reason_counts_for_nothing(
    card: MachineCard, job_until: Callable[[Phase], JobRecord], by: str, reason: str
) -> None:
    assessment = assess_job(_overridden(job_until(Phase.HOUR_1), by, reason), [], card=card)
    assert assessment.override is not None
    assert not assessment.override.is_valid


def test_stop_now_cannot_be_overridden(card: MachineCard) -> None:
    folder = Path(card.path).parent
    text = filled_record(
        card, by="A. Fitter", at=STARTED, until=Phase.HOUR_1, no={"no-knock": "knocks at speed"}
    )
    (folder / "job.toml").write_text(text, "utf-8")
    job = _overridden(read_job(folder), "B. Engineer", "we need it")
    assessment = assess_job(job, [], card=card)
    assert assessment.hold is Hold.STOP_NOW
    assert assessment.override is not None
    assert not assessment.override.is_valid
    assert assessment.override.sentence.startswith("STOP NOW cannot be overridden")


def test_steady_running_is_found_inside_a_recording_of_the_start(
    card: MachineCard,
    recorded: Callable[..., list[Recording]],
    job_until: Callable[[Phase], JobRecord],
) -> None:
    """The run-up's file given as a recording of the first check: its steady part is judged."""
    run_up = next(item for item in recorded() if item.moment is Moment.RUN_UP)
    moved = replace(run_up, moment=Moment.HOUR_1)
    assessment = assess_job(job_until(Phase.HOUR_1), [moved], card=card)
    (analysis,) = assessment.recordings
    assert analysis.recording.duration_s < run_up.duration_s - 10.0
    assert analysis.speed.shaft_frequency_hz == pytest.approx(0.995 * 978 / 60, rel=0.01)
    assert [t.kind for item in assessment.transients for t in item.transients] == ["run-up"]


def test_a_recording_right_below_as_left_belongs_to_the_first_check() -> None:
    recording = Recording(
        samples=np.zeros(2),
        sampling_rate_hz=1.0,
        unit="m/s2",
        path="",
        sha256="",
        stage=Stage.AS_LEFT,
    )
    assert check_of(recording) is Moment.HOUR_1
    assert check_of(replace(recording, moment=Moment.DAY_7)) is Moment.DAY_7
