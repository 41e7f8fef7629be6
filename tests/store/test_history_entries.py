"""What goes in comes out; the same again is not stored twice; wrong entries are withdrawn."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from math import inf, isnan, nan

import pytest

from tests.benchmark.history_store import sample_recording
from tests.store.store_samples import REBUILD, UNIT, VERDICT
from vibhealth.errors import StoreError
from vibhealth.model import CriterionResult, HistoryOverride, HistoryRecording, Past
from vibhealth.store import AddResult, EntryKind, History

MACHINE = "screen 0"
EAST = timezone(timedelta(hours=5, minutes=30))


class TestRoundTrip:
    def test_a_recording(self, history: History) -> None:
        recording = sample_recording(3)
        added = history.add_recording(recording)
        assert added == AddResult(added=True, id=1)
        assert history.recordings(MACHINE) == (replace(recording, id=1),)

    def test_a_recording_of_which_little_is_known(self, history: History) -> None:
        recording = replace(
            sample_recording(3),
            point=None,
            direction=None,
            recorded_at=None,
            running_hours_h=None,
            shaft_frequency_hz=None,
            descriptors=(),
            families=(),
        )
        history.add_recording(recording)
        assert history.recordings(MACHINE) == (replace(recording, id=1),)

    def test_verdict_rebuild_and_opened_unit(self, history: History) -> None:
        assert history.add_verdict(VERDICT).added
        assert history.add_rebuild(REBUILD).added
        assert history.add_opened_unit(UNIT).added
        assert history.verdicts(MACHINE) == (replace(VERDICT, id=1),)
        assert history.rebuilds(MACHINE) == (replace(REBUILD, id=1),)
        assert history.opened_units(MACHINE) == (replace(UNIT, id=1),)
        assert history.machines() == (MACHINE,)

    @pytest.mark.parametrize(
        "override",
        [None, HistoryOverride(by="", reason="", at=VERDICT.decided_on, is_valid=True)],
    )
    def test_a_verdict_with_and_without_override(
        self, history: History, override: HistoryOverride | None
    ) -> None:
        verdict = replace(VERDICT, override=override, hold=None, decided_on=None)
        history.add_verdict(verdict)
        assert history.verdicts(MACHINE) == (replace(verdict, id=1),)

    def test_a_unit_without_damaged_part(self, history: History) -> None:
        unit = replace(UNIT, element=None, opened_on=None)
        history.add_opened_unit(unit)
        assert history.opened_units(MACHINE) == (replace(unit, id=1),)

    def test_odd_numbers(self, history: History) -> None:
        first, second, third, *_ = sample_recording(1).descriptors
        odd = (replace(first, value=nan), replace(second, value=inf), replace(third, value=-0.0))
        history.add_recording(replace(sample_recording(1), descriptors=odd))
        (read,) = history.recordings(MACHINE)
        assert isnan(read.descriptors[0].value)
        assert [descriptor.value for descriptor in read.descriptors[1:]] == [inf, 0.0]

    def test_a_time_of_another_zone_is_the_same_moment(self, history: History) -> None:
        at = datetime(2026, 3, 1, 2, tzinfo=EAST)
        history.add_rebuild(replace(REBUILD, at=at))
        (read,) = history.rebuilds(MACHINE)
        assert read.at == at
        assert read.at.tzinfo is UTC

    def test_a_file_name_outside_unicode_is_escaped(self, history: History) -> None:
        history.add_recording(replace(sample_recording(1), path="a\udcff.wav"))
        assert history.recordings(MACHINE)[0].path == "a\\udcff.wav"


class TestSelection:
    def test_by_point_time_and_descriptor_in_order_of_time(self, history: History) -> None:
        recordings = [sample_recording(number) for number in (5, 1, 4, 2, 3)]
        history.add_recordings([*recordings, sample_recording(2, "screen 9")])
        undated = replace(sample_recording(8), recorded_at=None)
        history.add_recording(undated)
        assert [r.sha256[-1] for r in history.recordings(MACHINE)] == list("812345")
        since, until = recordings[3].recorded_at, recordings[2].recorded_at
        some = history.recordings(MACHINE, since=since, until=until)
        assert [r.sha256[-1] for r in some] == list("234")
        free = history.recordings(MACHINE, point="free-end", since=since)
        assert [r.sha256[-1] for r in free] == list("35")

    def test_chosen_descriptors_alone(self, history: History) -> None:
        whole = sample_recording(1)
        history.add_recording(whole)
        (read,) = history.recordings(
            MACHINE, descriptors={"level-7", "level-2", "none"}, families=False
        )
        assert read.descriptors == (whole.descriptors[2], whole.descriptors[7])
        assert read.families == ()

    def test_an_unknown_machine_has_nothing(self, history: History) -> None:
        history.add_recording(sample_recording(1))
        assert history.recordings("other") == ()
        assert history.verdicts("other") == ()
        assert history.rebuilds("other") == ()


def test_channels_that_are_stored_and_count(history: History) -> None:
    first = sample_recording(1)
    history.add_recordings(replace(first, channel=channel) for channel in (2, 0, 1))
    history.withdraw("recording", 2, by="x", reason="y")
    assert history.stored_channels(MACHINE, first.sha256) == (1, 2)
    assert history.stored_channels("other", first.sha256) == ()
    assert history.stored_channels(MACHINE, "f" * 64) == ()


class TestAgain:
    def test_the_same_is_not_stored_twice(self, history: History) -> None:
        for _ in range(2):
            results = (
                history.add_recording(sample_recording(1)),
                history.add_verdict(VERDICT),
                history.add_rebuild(REBUILD),
                history.add_opened_unit(UNIT),
            )
        assert results == (AddResult(added=False, id=1),) * 4
        assert len(history.recordings(MACHINE)) == 1

    def test_another_channel_machine_or_verdict_is_new(self, history: History) -> None:
        first = sample_recording(1)
        assert history.add_recording(first).id == 1
        assert history.add_recording(replace(first, channel=7)).added
        assert history.add_recording(replace(first, machine="screen 9")).added
        assert history.add_verdict(VERDICT).added
        assert history.add_verdict(replace(VERDICT, headline="other")).added

    def test_a_recording_read_differently_is_kept_as_it_was_and_said(
        self, history: History
    ) -> None:
        history.add_recording(sample_recording(1))
        again = history.add_recording(replace(sample_recording(1), tool_version="0.2.0"))
        assert again == AddResult(added=False, id=1, differs=True)
        assert history.recordings(MACHINE)[0].tool_version == "0.1.0"

    def test_another_rebuild_at_the_same_time_is_refused(self, history: History) -> None:
        history.add_rebuild(REBUILD)
        with pytest.raises(StoreError, match=r"another rebuild at this time \(number 1\): with"):
            history.add_rebuild(replace(REBUILD, unit_serial="U-18"))

    def test_another_finding_of_the_same_bearing_is_refused(self, history: History) -> None:
        history.add_opened_unit(UNIT)
        with pytest.raises(StoreError, match="another opened unit of this bearing"):
            history.add_opened_unit(replace(UNIT, element=None))


class TestWithdrawal:
    def test_a_withdrawn_entry_no_longer_counts_but_stays(self, history: History) -> None:
        history.add_rebuild(REBUILD)
        history.withdraw("rebuild", 1, by="C. Planner", reason="wrong date")
        assert history.rebuilds(MACHINE) == ()
        assert history.rebuilds(MACHINE, withdrawn=True) == (replace(REBUILD, id=1),)
        (withdrawal,) = history.withdrawals(MACHINE)
        assert (withdrawal.kind, withdrawal.entry_id) == (EntryKind.REBUILD, 1)
        assert (withdrawal.by, withdrawal.reason) == ("C. Planner", "wrong date")
        assert withdrawal.at.tzinfo is UTC

    def test_every_kind_may_be_withdrawn_and_added_again(self, history: History) -> None:
        def add_all() -> list[AddResult]:
            return [
                history.add_recording(sample_recording(1)),
                history.add_verdict(VERDICT),
                history.add_rebuild(REBUILD),
                history.add_opened_unit(UNIT),
            ]

        add_all()
        for kind in EntryKind:
            history.withdraw(kind, 1, by="x", reason="y")
        assert add_all() == [AddResult(added=True, id=2)] * 4
        assert [recording.id for recording in history.recordings(MACHINE)] == [2]
        assert len(history.recordings(MACHINE, withdrawn=True)) == 2
        assert len(history.verdicts(MACHINE)) == 1

    def test_what_cannot_be_withdrawn(self, history: History) -> None:
        history.add_rebuild(REBUILD)
        with pytest.raises(StoreError, match="no rebuild number 2"):
            history.withdraw("rebuild", 2, by="x", reason="y")
        with pytest.raises(StoreError, match="kind of entry must be one of"):
            history.withdraw("withdrawal", 1, by="x", reason="y")
        for by, reason in (("", "y"), ("x", " ")):
            with pytest.raises(StoreError, match="must not be empty"):
                history.withdraw("rebuild", 1, by=by, reason=reason)
        history.withdraw("rebuild", 1, by="x", reason="y")
        with pytest.raises(StoreError, match="withdrawn already"):
            history.withdraw("rebuild", 1, by="x", reason="y")


class TestAllOrNothing:
    def test_a_batch_with_one_bad_recording_leaves_nothing(self, history: History) -> None:
        bad = replace(sample_recording(2), recorded_at=datetime(2026, 1, 1))  # noqa: DTZ001
        with pytest.raises(StoreError, match="recorded_at must say its time zone"):
            history.add_recordings([sample_recording(1), bad])
        assert history.machines() == ()

    def test_a_job_of_several_kinds_is_stored_whole_or_not_at_all(self, history: History) -> None:
        history.add_rebuild(REBUILD)

        def store_job() -> None:
            with history.transaction():
                history.add_recordings(sample_recording(number) for number in range(3))
                history.add_rebuild(replace(REBUILD, by="somebody else"))

        with pytest.raises(StoreError, match="another rebuild"):
            store_job()
        assert history.recordings(MACHINE) == ()

    @pytest.mark.parametrize(
        ("entry", "name"),
        [
            (replace(sample_recording(1), sha256=""), "sha256"),
            (replace(sample_recording(1), machine=" "), "machine"),
        ],
    )
    def test_what_has_no_key_is_refused(self, history: History, entry: object, name: str) -> None:
        with pytest.raises(StoreError, match=f"{name}.* must not be empty"):
            history.add_recording(entry)  # type: ignore[arg-type]

    def test_naive_times_are_refused(self, history: History) -> None:
        naive = datetime(2026, 1, 1)  # noqa: DTZ001
        with pytest.raises(StoreError, match="time of a rebuild must say its time zone"):
            history.add_rebuild(replace(REBUILD, at=naive))
        with pytest.raises(StoreError, match="since must say its time zone"):
            history.recordings(MACHINE, since=naive)


class TestFamiliesSeen:
    """Which families a trend is worth reading for: those that did not pass lately."""

    @staticmethod
    def recording(number: int, *watch: int) -> HistoryRecording:
        found = sample_recording(number)
        return replace(
            found,
            families=tuple(
                replace(f, result=CriterionResult.WATCH if place in watch else CriterionResult.PASS)
                for place, f in enumerate(found.families)
            ),
        )

    def test_only_the_latest_of_each_point_count(self, history: History) -> None:
        """Even numbers stand at one point, odd at the other; one every hour."""
        history.add_recordings(
            [self.recording(0, 0), self.recording(1, 1), self.recording(2, 2), self.recording(3),
             self.recording(4)]
        )  # fmt: skip
        names = [(f.bearing, f.element) for f in sample_recording(0).families]
        assert history.families_seen(MACHINE) == {names[0], names[1], names[2]}
        at = sample_recording(4).recorded_at
        assert at is not None
        history.add_rebuild(replace(REBUILD, at=at))  # what was before it counts by the latest only
        assert history.families_seen(MACHINE, latest=2) == {names[1], names[2]}
        assert history.families_seen(MACHINE, latest=1) == frozenset()
        until = sample_recording(2).recorded_at  # before the rebuild: all count
        assert history.families_seen(MACHINE, until=until, latest=1) == set(names[:3])

    def test_undated_ones_count_at_any_time_withdrawn_ones_never(self, history: History) -> None:
        undated = replace(self.recording(0, 0), recorded_at=None)
        added = history.add_recordings([undated, self.recording(2, 2)])
        names = [(f.bearing, f.element) for f in sample_recording(0).families]
        assert history.families_seen(MACHINE) == {names[0], names[2]}
        history.withdraw("recording", added[0].id, by="T", reason="wrong file")
        history.withdraw("recording", added[1].id, by="T", reason="wrong file")
        assert history.families_seen(MACHINE) == frozenset()
        assert history.families_seen("nobody") == frozenset()

    def test_the_named_families_are_read_and_no_others(self, history: History) -> None:
        recording = self.recording(0, 0)
        history.add_recording(recording)
        wanted = recording.families[2]
        (read,) = history.recordings(MACHINE, families={(wanted.bearing, wanted.element)})
        assert read.families == (wanted,)
        (none,) = history.recordings(MACHINE, families=set())
        assert none.families == ()


class TestPast:
    PAST = Past(
        recordings=(sample_recording(1), sample_recording(2)),
        verdicts=(VERDICT,),
        rebuilds=(REBUILD,),
        opened=(UNIT,),
    )

    def test_what_is_added_together_is_all_there(self, history: History) -> None:
        history.add_past(self.PAST)
        assert len(history.recordings(MACHINE)) == 2
        assert history.verdicts(MACHINE) == (replace(VERDICT, id=1),)
        assert history.rebuilds(MACHINE) == (replace(REBUILD, id=1),)
        assert history.opened_units(MACHINE) == (replace(UNIT, id=1),)
        history.add_past(self.PAST)
        assert len(history.recordings(MACHINE)) == 2

    def test_one_wrong_entry_leaves_nothing(self, history: History) -> None:
        nameless = replace(self.PAST, opened=(replace(UNIT, by=""),))
        with pytest.raises(StoreError):
            history.add_past(nameless)
        assert history.machines() == ()

    def test_the_latest_rebuild_is_the_one_of_the_unit_that_runs(self) -> None:
        earlier = replace(REBUILD, at=REBUILD.at - timedelta(days=400))
        assert Past(rebuilds=(REBUILD, earlier)).last_rebuild_at == REBUILD.at
        assert Past().last_rebuild_at is None
