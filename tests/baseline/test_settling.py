"""Signs that the machine still settled while it was recorded, both sides of each limit."""

from collections.abc import Callable, Sequence

import pytest

from vibhealth.baseline import settling_flags
from vibhealth.model import Descriptor, Moment, RecordingAnalysis, Stage

Make = Callable[..., RecordingAnalysis]


def levels(*values: float) -> tuple[Descriptor, ...]:
    return tuple(
        Descriptor(id=id_, title=id_, value=value, unit="m/s2")
        for id_, value in zip(("bearing-band-block-median", "residual-rms"), values, strict=False)
    )


def test_a_settled_machine_has_none(make_analysis: Make) -> None:
    assert settling_flags([make_analysis(number) for number in (1, 2, 3)]) == ()
    assert settling_flags([]) == ()


@pytest.mark.parametrize(
    ("moments", "words"),
    [
        ([Moment.HOUR_1], "1 h"),
        ([Moment.HOUR_8, Moment.DAY_7], "8 h"),
        ([Moment.HOUR_8, Moment.HOUR_1, Moment.HOUR_8], "1 h and 8 h"),
    ],
)
def test_early_checks_are_told(make_analysis: Make, moments: Sequence[Moment], words: str) -> None:
    analyses = [make_analysis(n, moment=moment) for n, moment in enumerate(moments, start=1)]
    assert settling_flags(analyses) == (
        f"recordings of the check at {words} are among them, while the machine settles",
    )


@pytest.mark.parametrize("moment", [Moment.HOUR_24, Moment.DAY_7, None])
def test_late_checks_are_not_told(make_analysis: Make, moment: Moment | None) -> None:
    assert settling_flags([make_analysis(moment=moment)]) == ()


def test_recordings_as_found_are_told_as_such_only(make_analysis: Make) -> None:
    """Before the rebuild nothing settles, whenever it was recorded."""
    analysis = make_analysis(stage=Stage.AS_FOUND, moment=Moment.HOUR_1)
    assert settling_flags([analysis]) == ("recordings as found, before a rebuild, are among them",)


def test_a_housing_that_warms_is_told(make_analysis: Make) -> None:
    first = [make_analysis(1, temperature_c=40.0), make_analysis(2, temperature_c=None)]
    still, warming = ([*first, make_analysis(3, temperature_c=last)] for last in (45.0, 45.5))
    assert settling_flags(still) == ()
    assert settling_flags(warming) == (
        "the housing was between 40 and 45.5 °C in them (limit 5 °C apart)",
    )


def test_a_level_that_moves_is_told(make_analysis: Make) -> None:
    """Only the bearing-band level counts; a level of 0 (a silent channel) is no level."""
    given = [levels(1.0, 1.0), levels(1.49, 9.0), levels(0.0, 1.0)]
    steady = [make_analysis(n, descriptors=row) for n, row in enumerate(given, start=1)]
    assert settling_flags(steady) == ()
    moved = [*steady, make_analysis(4, descriptors=levels(1.6, 1.0))]
    assert settling_flags(moved) == (
        "the bearing-band level differs by a factor 1.60 among them (limit 1.5)",
    )


def test_everything_is_told_at_once(make_analysis: Make) -> None:
    analyses = [
        make_analysis(1, moment=Moment.HOUR_1, temperature_c=30.0, descriptors=levels(1.0)),
        make_analysis(2, stage=Stage.AS_FOUND, temperature_c=50.0, descriptors=levels(3.0)),
    ]
    assert len(settling_flags(analyses)) == 4
