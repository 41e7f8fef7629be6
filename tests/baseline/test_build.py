"""From analyses to a baseline: what is gathered, and which recordings make none."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from vibhealth.baseline import (
    Baseline,
    Range,
    Status,
    build_baseline,
    conditions_of,
    gather,
    line_difference,
    load_of,
    motion_values,
    read_baseline,
    sensor_of,
    store_baseline,
)
from vibhealth.baseline.lines import LineSettings
from vibhealth.card import MachineCard
from vibhealth.diagnosis import analyze_recording
from vibhealth.errors import BaselineError
from vibhealth.model import (
    Calibration,
    CriterionResult,
    Element,
    FamilyFinding,
    Moment,
    Orbit,
    PatternSpectrum,
    PointPattern,
    QualityFinding,
    Recording,
    RecordingAnalysis,
    Stage,
)
from vibhealth.simulate import Resonance, SimulationSettings, simulate

Make = Callable[..., RecordingAnalysis]
MakeCard = Callable[..., MachineCard]
MADE_AT = datetime(2026, 3, 9, 12, 0, 1, 999999, tzinfo=UTC)
DIGITS_RTOL = 5e-7  # half a unit of the seventh digit


def built(*analyses: RecordingAnalysis, card: MachineCard, **changes: Any) -> Baseline:
    facts: dict[str, Any] = {"made_at": MADE_AT, "accepted_by": "A. Meyer"}
    return build_baseline(analyses, card=card, **facts | changes)


@pytest.fixture(scope="module")
def card(make_card: MakeCard) -> MachineCard:
    return make_card()


@pytest.fixture(scope="module")
def three(make_analysis: Make, card: MachineCard) -> Baseline:
    """Of three recordings, as it is built."""
    return built(*(make_analysis(n, level=1.0 + 0.1 * n) for n in (1, 2, 3)), card=card)


def refusal(*analyses: RecordingAnalysis, card: MachineCard, **changes: Any) -> str:
    with pytest.raises(BaselineError) as caught:
        built(*analyses, card=card, **changes)
    message = str(caught.value)
    assert "\n" not in message
    return message


def test_what_it_is_and_who_answers_for_it(three: Baseline) -> None:
    assert (three.machine_id, three.machine_name, three.point) == ("F3", "Deck feeder F3", "P1X")
    assert (three.status, three.accepted_by, three.flags) == (Status.KNOWN_GOOD, "A. Meyer", ())
    assert three.made_at == MADE_AT.replace(microsecond=0)
    assert (three.version, three.digest, three.path, three.label) == (0, "", "", "")
    assert three.n_recordings == 3


def test_conditions_are_the_range_of_the_recordings(three: Baseline) -> None:
    conditions = three.conditions
    assert conditions.shaft_frequency_hz == Range(low=16.01, high=16.03)
    assert conditions.temperature_c == Range(low=48.0, high=50.0)
    assert (conditions.sampling_rate_hz, conditions.unit) == (8000.0, "m/s2")
    assert (conditions.load, conditions.direction) == ("empty", "x")
    assert (conditions.sensor, conditions.mount) == ("A1 (serial 4711)", "stud")


def test_recordings_are_named_with_their_folder(three: Baseline) -> None:
    source = three.recordings[1]
    assert source.name == "7d/P1X_2.wav"
    assert source.sha256 == f"{2:064x}"
    assert (source.duration_s, source.shaft_frequency_hz) == (0.5, 16.02)
    assert source.moment is Moment.DAY_7
    assert source.temperature_c == 49.0


def test_levels_keep_the_value_of_each_recording(three: Baseline) -> None:
    """0.7333... is cut to seven digits: what is stored is what is compared."""
    scalar = three.scalar("bearing-band-block-median")
    assert scalar is not None
    assert scalar.values == (0.3666667, 0.4, 0.4333333)
    assert scalar.band_hz == (1000.0, 3900.0)
    stroke = three.scalar("stroke-mm")
    assert stroke is not None
    assert (stroke.values, stroke.unit, stroke.title) == (
        (6.01, 6.02, 6.03),
        "mm",
        "stroke, peak to peak",
    )
    assert three.scalar("nothing") is None


def test_a_level_that_one_recording_lacks_is_left_open(
    make_analysis: Make, card: MachineCard
) -> None:
    silent = replace(make_analysis(2), motion=None)
    found = built(make_analysis(1), silent, card=card).scalar("stroke-mm")
    assert found is not None
    assert found.values == (6.01, None)


def test_a_band_that_follows_the_speed_is_one_level(make_analysis: Make, card: MachineCard) -> None:
    analyses = []
    for number, low_hz in ((1, 8.01), (2, 8.0123)):
        plain = make_analysis(number)
        row = replace(plain.descriptors[0], id="working-motion-rms", band_hz=(low_hz, 40.0))
        analyses.append(replace(plain, descriptors=(row,)))
    found = [s for s in built(*analyses, card=card).scalars if s.id == "working-motion-rms"]
    (scalar,) = found
    assert scalar.values == (0.3333333, 0.3333333)
    assert scalar.band_hz == (8.01, 40.0)


def test_spectra_are_geometric_means_with_their_spread(
    make_analysis: Make, three: Baseline
) -> None:
    patterns = [make_analysis(n).pattern for n in (1, 2, 3)]
    for statistic in three.spectra:
        rows = [p.spectrum(statistic.kind) for p in patterns if p is not None]
        amplitude = np.array([row.amplitude for row in rows if row is not None])
        floor = np.array([row.floor for row in rows if row is not None])
        above = 20 * np.log10(amplitude / floor)
        mean = np.prod(amplitude, axis=0) ** (1 / 3)
        np.testing.assert_allclose(statistic.amplitude, mean, rtol=DIGITS_RTOL)
        # Absolute for levels near 0 dB, whose digits are finer than the round-off of logarithms.
        np.testing.assert_allclose(
            statistic.above_floor_db, above.mean(axis=0), rtol=DIGITS_RTOL, atol=1e-12
        )
        spread = np.sqrt(((above - above.mean(axis=0)) ** 2).sum(axis=0) / 2)
        assert statistic.spread_db is not None
        np.testing.assert_allclose(statistic.spread_db, spread, rtol=DIGITS_RTOL, atol=1e-12)
        assert (statistic.n_recordings, statistic.n_averages) == (3, 20.0)
        ratio = 20 * np.log10(statistic.amplitude / statistic.floor)
        np.testing.assert_allclose(ratio, statistic.above_floor_db, rtol=0, atol=1e-9)
    assert [s.kind for s in three.spectra] == [
        "order-spectrum",
        "envelope-spectrum",
        "whitened-envelope-spectrum",
    ]


def test_harmonics_count_where_most_recordings_know_them(three: Baseline) -> None:
    """3x stands out in none; 5x in two of three: the mean of these two."""
    base = np.linspace(-20.0, -36.0, 9)
    expected = base + 0.2
    expected[1] = np.nan
    expected[3] = base[3] + 0.15
    np.testing.assert_allclose(three.harmonics_db, expected, rtol=DIGITS_RTOL)


def test_a_harmonic_of_half_of_the_recordings_is_not_known(
    make_analysis: Make, card: MachineCard
) -> None:
    found = built(*(make_analysis(n) for n in (1, 2, 3, 4)), card=card)
    assert np.isnan(found.harmonics_db[3])


def test_half_octaves_are_those_that_all_hold(
    make_analysis: Make, make_pattern: Callable[..., PointPattern], card: MachineCard
) -> None:
    short = make_pattern(
        2, bands_db=np.array([-38.0, -39.0]), bands_centre_hz=np.array([250.0, 354.0])
    )
    found = built(make_analysis(1), make_analysis(2, pattern=short), card=card)
    np.testing.assert_allclose(found.bands_db, [-38.5, -39.5])
    np.testing.assert_allclose(found.bands_centre_hz, [250.0, 353.5534])
    assert found.bands_spread_db is not None
    np.testing.assert_allclose(found.bands_spread_db, [np.sqrt(0.5)] * 2, rtol=DIGITS_RTOL)


def test_a_single_recording_has_no_spread(make_analysis: Make, card: MachineCard) -> None:
    found = built(make_analysis(1), card=card)
    assert found.bands_spread_db is None
    assert all(item.spread_db is None for item in found.spectra)
    scalar = found.scalar("residual-rms")
    assert scalar is not None
    assert scalar.spread_db is None


def test_a_spectrum_that_one_recording_lacks_is_left_out(
    make_analysis: Make, make_pattern: Callable[..., PointPattern], card: MachineCard
) -> None:
    bare = make_pattern(2, spectra=make_pattern(2).spectra[:1])
    found = built(make_analysis(1), make_analysis(2, pattern=bare), card=card)
    assert [item.kind for item in found.spectra] == ["order-spectrum"]


def test_the_shortest_spectrum_sets_the_length(
    make_analysis: Make,
    make_pattern: Callable[..., PointPattern],
    make_spectrum: Callable[..., PatternSpectrum],
    card: MachineCard,
) -> None:
    short = make_spectrum(9, highest_order=2.0, n_averages=7.0)
    found = built(
        make_analysis(1), make_analysis(2, pattern=make_pattern(2, spectra=(short,))), card=card
    )
    (statistic,) = found.spectra
    assert statistic.order[-1] == 2.0
    assert statistic.amplitude.size == statistic.order.size == short.order.size
    assert statistic.n_averages == 7.0


def test_families_keep_each_reading(three: Baseline) -> None:
    family = three.family("upper", Element.OUTER_RING)
    assert family is not None
    assert [row.recording for row in family.readings] == [1, 2, 3]
    assert family.readings[0].order == 3.581235
    assert family.depth_whitened == pytest.approx(0.02, rel=1e-12)
    assert {f.element for f in three.families} == set(Element)
    assert three.family("lower", Element.OUTER_RING) is None


def test_the_best_recording_says_what_would_have_been_seen(three: Baseline) -> None:
    """A size that no recording could show is not stated."""
    assert three.detectable_depths == (("upper", Element.OUTER_RING, 0.11),)


def test_every_number_has_seven_digits(three: Baseline) -> None:
    def is_cut(value: float) -> bool:
        return not np.isfinite(value) or value == float(f"{value:.7g}")

    for spectrum in three.spectra:
        for values in (spectrum.amplitude, spectrum.above_floor_db, spectrum.spread_db):
            assert values is not None
            assert all(map(is_cut, values))
    assert three.bands_spread_db is not None
    for values in (three.bands_db, three.bands_spread_db, three.harmonics_db):
        assert all(map(is_cut, values))
    assert all(is_cut(v) for s in three.scalars for v in s.values if v is not None)
    assert all(is_cut(row.depth) for f in three.families for row in f.readings)


def test_stored_and_read_it_is_the_same(three: Baseline, tmp_path: Path) -> None:
    back = store_baseline(tmp_path, three)
    assert back.scalars == three.scalars
    assert back.families == three.families
    assert back.recordings == three.recordings
    assert back.conditions == three.conditions
    for one, two in zip(back.spectra, three.spectra, strict=True):
        for name in ("order", "amplitude", "above_floor_db", "spread_db"):
            np.testing.assert_array_equal(getattr(one, name), getattr(two, name))
    np.testing.assert_array_equal(back.harmonics_db, three.harmonics_db)


def test_the_order_of_recordings_does_not_move_a_mean(
    make_analysis: Make, card: MachineCard
) -> None:
    analyses = [make_analysis(n, level=1.0 + 0.1 * n) for n in (1, 2, 3)]
    one, two = built(*analyses, card=card), built(*analyses[::-1], card=card)
    for first, second in zip(one.spectra, two.spectra, strict=True):
        np.testing.assert_allclose(first.amplitude, second.amplitude, rtol=2 * DIGITS_RTOL)
    mean = [b.scalar("bearing-band-block-median") for b in (one, two)]
    assert mean[0] is not None
    assert mean[1] is not None
    assert mean[0].mean == pytest.approx(mean[1].mean, rel=1e-12)
    assert mean[0].values == mean[1].values[::-1]


def test_the_orbit_is_the_middle_one(make_analysis: Make, card: MachineCard) -> None:
    def orbit(major: float, direction: str, points: tuple[str, str] = ("P1X", "P1Y")) -> Orbit:
        return Orbit(
            stage="as-left",
            points=points,
            path="a",
            major_mm=major,
            minor_mm=major / 2,
            tilt_deg=10 * major,
            direction=direction,  # type: ignore[arg-type]
            curve_x_mm=np.zeros(2),
            curve_y_mm=np.zeros(2),
        )

    orbits = [
        orbit(3.1, "clockwise"),
        orbit(2.9, "line"),
        orbit(3.0, "clockwise"),
        orbit(9.0, "line", ("P2X", "P2Y")),
    ]
    found = built(make_analysis(1), card=card, orbits=orbits).orbit
    assert found is not None
    assert (found.points, found.major_mm, found.minor_mm) == (("P1X", "P1Y"), 3.0, 1.5)
    assert (found.tilt_deg, found.direction) == (30.0, "clockwise")
    assert built(make_analysis(1), card=card, orbits=orbits[3:]).orbit is None


def test_invented_recordings_are_labelled(make_analysis: Make, card: MachineCard) -> None:
    remarks = (("load", "empty"), ("note", "INVENTED by simulation"))
    found = built(make_analysis(1), make_analysis(2, remarks=remarks), card=card)
    assert found.label.startswith("INVENTED: made by simulation")


def test_sensor_load_and_motion_of_a_recording(make_analysis: Make, make_card: MakeCard) -> None:
    analysis = make_analysis(1)
    assert sensor_of(analysis.recording, make_card()) == ("A1 (serial 4711)", "stud")
    elsewhere = replace(analysis.recording, point="P9X")
    assert sensor_of(elsewhere, make_card()) == ("", "")
    assert sensor_of(replace(analysis.recording, point=None), make_card()) == ("", "")
    assert load_of(analysis.recording) == "empty"
    assert load_of(replace(analysis.recording, remarks=())) == ""
    assert motion_values(replace(analysis, motion=None)) == {}
    assert {k: v[2] for k, v in motion_values(analysis).items()} == {
        "stroke-mm": 6.01,
        "first-order": 31.4,
        "harmonic-ratio": 0.05,
        "half-order-ratio": 0.001,
    }


def test_no_recording_makes_none(card: MachineCard) -> None:
    assert refusal(card=card) == (
        "no recording to make a baseline of; give at least one of steady running"
    )


def test_a_point_that_is_not_known_is_refused(make_analysis: Make, card: MachineCard) -> None:
    message = refusal(make_analysis(1), make_analysis(2, point=None), card=card)
    assert message == (
        "/records/7d/P1X_2.wav: its measurement point is not known; name it with --point or on "
        "the card"
    )


def test_recordings_of_several_points_are_refused(make_analysis: Make, card: MachineCard) -> None:
    message = refusal(make_analysis(1), make_analysis(2, point="P1Y"), card=card)
    assert message == "recordings of 2 points (P1X, P1Y); give one"


def test_the_same_recording_twice_is_refused(make_analysis: Make, card: MachineCard) -> None:
    twin = make_analysis(2, sha256=f"{1:064x}")
    message = refusal(make_analysis(1), twin, card=card)
    assert message.endswith("the same recording is given twice; give it once")
    other = replace(twin, recording=replace(twin.recording, channel=2))
    assert built(make_analysis(1), other, card=card).n_recordings == 2


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"unit": "counts"}, "unit is counts, in /records/7d/P1X_1.wav m/s2"),
        (
            {"sampling_rate_hz": 25600.0},
            "sampling rate in Hz is 25600, in /records/7d/P1X_1.wav 8000",
        ),
        ({"remarks": (("load", "loaded"),)}, "load is loaded, in /records/7d/P1X_1.wav empty"),
        ({"remarks": ()}, "load is not stated, in /records/7d/P1X_1.wav empty"),
        ({"direction": "y"}, "direction is y, in /records/7d/P1X_1.wav x"),
    ],
)
def test_recordings_in_two_states_are_refused(
    make_analysis: Make, card: MachineCard, change: dict[str, Any], says: str
) -> None:
    message = refusal(make_analysis(1), make_analysis(2, **change), card=card)
    assert message == (
        f"/records/7d/P1X_2.wav: {says}; a baseline is made of recordings in one state"
    )


def test_a_recording_without_speed_of_its_own_is_refused(
    make_analysis: Make, card: MachineCard
) -> None:
    """The card's nominal speed is a guess: it puts every line in another place."""
    speed = make_analysis(2).speed
    for lost in (
        replace(speed, shaft_frequency_hz=None, source="none"),
        replace(speed, source="card"),
    ):
        message = refusal(make_analysis(1), make_analysis(2, speed=lost), card=card)
        assert message == (
            "/records/7d/P1X_2.wav: no shaft speed was found in it, and lines can only be compared "
            "in multiples of it; record longer at steady speed, or give it with --speed-rpm"
        )
    given = replace(speed, source="given")
    assert built(make_analysis(1), make_analysis(2, speed=given), card=card).n_recordings == 2


def test_an_unusable_recording_is_refused_with_its_reason(
    make_analysis: Make, card: MachineCard
) -> None:
    clipped = QualityFinding(
        id="clipping",
        title="Clipping",
        result=CriterionResult.HOLD,
        detail="It is clipped.",
        advice="Use a wider range.",
    )
    message = refusal(make_analysis(1, quality=(clipped,)), card=card)
    assert message == (
        "/records/7d/P1X_1.wav: not usable for a baseline: It is clipped. Use a wider range."
    )
    watched = replace(clipped, result=CriterionResult.WATCH)
    assert built(make_analysis(1, quality=(watched,)), card=card).n_recordings == 1


@pytest.mark.parametrize(
    ("not_judged", "says"),
    [
        ("", "too short for a baseline: at least 100 turns; record 60 s"),
        ("The speed wanders.", "not usable for a baseline: The speed wanders; record again"),
    ],
)
def test_a_recording_without_pattern_is_refused(
    make_analysis: Make, card: MachineCard, not_judged: str, says: str
) -> None:
    message = refusal(make_analysis(1, pattern=None, families_not_judged=not_judged), card=card)
    assert message == f"/records/7d/P1X_1.wav: {says}"


@pytest.mark.parametrize("status", [Status.KNOWN_GOOD, Status.CANDIDATE])
def test_an_unusable_recording_makes_no_candidate_either(
    make_analysis: Make, card: MachineCard, status: Status
) -> None:
    assert "too short" in refusal(make_analysis(1, pattern=None), card=card, status=status)


def test_gathering_needs_one_pattern(make_analysis: Make, card: MachineCard) -> None:
    facts: dict[str, Any] = {"card": card, "point": "P1X", "made_at": MADE_AT}
    with pytest.raises(BaselineError, match=r"P1X_1\.wav: nothing to compare could be read: fewer"):
        gather([make_analysis(1, pattern=None)], **facts)
    mixed = gather([make_analysis(1, pattern=None), make_analysis(2)], **facts)
    assert mixed.status is Status.CANDIDATE
    assert mixed.spectra[0].n_recordings == 1
    assert mixed.n_recordings == 2


@pytest.mark.parametrize("name", ["", "  ", "?"])
def test_somebody_has_to_answer_for_it(make_analysis: Make, card: MachineCard, name: str) -> None:
    message = refusal(make_analysis(1), card=card, accepted_by=name)
    assert message == "baseline of P1X: nobody answers for it; give a name with --accepted-by"
    candidate = built(make_analysis(1), card=card, accepted_by=name, status=Status.CANDIDATE)
    assert candidate.status is Status.CANDIDATE


def held(make_family: Callable[..., FamilyFinding]) -> tuple[FamilyFinding, ...]:
    return (make_family(depth=0.4),)


@pytest.mark.parametrize(
    ("change", "flag"),
    [
        (
            {"moment": Moment.HOUR_1},
            "recordings of the check at 1 h are among them, while the machine settles",
        ),
        ({"stage": Stage.AS_FOUND}, "recordings as found, before a rebuild, are among them"),
        (
            {"temperature_c": 30.0},
            "the housing was between 30 and 48 °C in them (limit 5 °C apart)",
        ),
        (
            {"level": 2.0},
            "the bearing-band level differs by a factor 2.00 among them (limit 1.5)",
        ),
        (
            {"masked": "Falling material hides it"},
            "in P1X_2.wav something hides the bearing (falling material hides it)",
        ),
    ],
)
def test_what_speaks_against_it_needs_a_note(
    make_analysis: Make, card: MachineCard, change: dict[str, Any], flag: str
) -> None:
    analyses = (make_analysis(1), make_analysis(2, **change))
    message = refusal(*analyses, card=card)
    assert message.startswith(f"baseline of P1X is refused: {flag}; record when the machine runs")
    assert message.endswith("or say with --note why it holds all the same")
    assert refusal(*analyses, card=card, note="  ") == message
    found = built(*analyses, card=card, note=" looked at, fine ")
    assert found.flags == (flag,)
    assert found.note == "looked at, fine"
    assert built(*analyses, card=card, status=Status.CANDIDATE, accepted_by="").flags == (flag,)


def test_a_family_of_hold_size_needs_a_note(
    make_analysis: Make, make_family: Callable[..., FamilyFinding], card: MachineCard
) -> None:
    """Told once, however many recordings show it at this size."""
    analyses = [make_analysis(n, families=held(make_family)) for n in (1, 2)]
    flag = "outer ring of bearing upper reads like a defect (depth 0.40)"
    assert f"is refused: {flag}; record" in refusal(*analyses, card=card)
    assert built(*analyses, card=card, note="old dent, known").flags == (flag,)


def test_several_flags_are_all_told(
    make_analysis: Make, make_family: Callable[..., FamilyFinding], card: MachineCard
) -> None:
    analysis = make_analysis(1, families=held(make_family), moment=Moment.HOUR_8)
    message = refusal(analysis, card=card)
    assert "check at 8 h" in message
    assert "reads like a defect" in message


def test_conditions_without_a_temperature(make_analysis: Make, card: MachineCard) -> None:
    found = conditions_of([make_analysis(1, temperature_c=None)], card)
    assert found.temperature_c is None


def test_facts_that_are_numbers_of_numpy_are_stored(
    make_analysis: Make, card: MachineCard, tmp_path: Path
) -> None:
    """As a notebook gives them: a rate read from an array of times."""
    baseline = built(make_analysis(1, sampling_rate_hz=np.float64(8000.0)), card=card)
    assert store_baseline(tmp_path, baseline).conditions.sampling_rate_hz == 8000.0


@pytest.fixture(scope="module")
def real(make_card: MakeCard) -> tuple[MachineCard, list[RecordingAnalysis]]:
    """Two recordings of one healthy invented machine, 450 turns at 8 kHz, through the chain.

    Analysed by a card without its bearing: the search for families takes most of the time, and
    a baseline is all there is to tell by where no bearing is known.
    """
    changes: dict[str, Any] = {
        "machine": {"id": "F3", "name": "Deck feeder F3", "nominal_speed_rpm": 1200.0},
        "exciter": {"stroke_mm": {"x": 5.0, "y": 5.0}},
    }
    whole, card = make_card(**changes), make_card(**changes, bearing=[])
    analyses = []
    for seed in (1, 2):
        settings = SimulationSettings(
            duration_s=22.5,
            sampling_rate_hz=8000.0,
            speed_rpm=1200.0,
            speed_wander_percent=0.05,
            resonances=(Resonance(frequency_hz=1800.0, damping_ratio=0.04, gain=1.0),),
            seed=seed,
        )
        simulated = simulate(whole, defects=(), settings=settings)
        recording = Recording(
            samples=simulated.samples[0],
            sampling_rate_hz=8000.0,
            unit="m/s2",
            path=f"24h/{seed}.wav",
            sha256=f"{seed:064x}",
            point=simulated.points[0],
            direction=simulated.directions[0],
            stage=Stage.AS_LEFT,
            moment=Moment.HOUR_24,
            calibration=Calibration(scale_m_s2=1.0, source="simulated in m/s2"),
        )
        analyses.append(analyze_recording(recording, card=card))
    return card, analyses


def test_a_simulated_machine_has_a_baseline_and_keeps_to_it(
    real: tuple[MachineCard, list[RecordingAnalysis]], tmp_path: Path
) -> None:
    """The second recording against the first: the same stroke, and no line of the envelope."""
    card, (first, second) = real
    baseline = built(first, card=card)
    back = read_baseline(store_baseline(tmp_path, baseline).path)
    assert back.families == ()
    stroke = back.scalar("stroke-mm")
    assert stroke is not None
    assert stroke.mean == pytest.approx(5.0, rel=0.02)  # the simulated stroke
    assert [item.kind for item in back.spectra] == [
        "order-spectrum",
        "envelope-spectrum",
        "whitened-envelope-spectrum",
    ]
    assert back.conditions.shaft_frequency_hz.middle == pytest.approx(20.0, rel=1e-3)
    settings = LineSettings(
        stated_db=6.0, least_db=3.0, false_alarm_probability=0.01, slip_percent=1.5
    )
    assert second.pattern is not None
    for statistic in back.spectra:
        now = second.pattern.spectrum(statistic.kind)
        assert now is not None
        difference = line_difference(
            now,
            statistic,
            shaft_frequency_hz=20.0,
            reference_shaft_hz=20.0,
            settings=settings,
        )
        assert not (difference.beyond_db[~difference.is_locked] > 0).any()
        floor_db = 20 * np.log10(np.median(now.floor) / np.median(statistic.floor))
        assert floor_db == pytest.approx(0.0, abs=1.0)
