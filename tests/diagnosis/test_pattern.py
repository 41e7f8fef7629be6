"""What is compared with other recordings: a line's amplitude and depth, noise, what is too short."""

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.diagnosis.envelope_bank import block_spectra, split_blocks
from vibhealth.diagnosis.pattern import point_pattern
from vibhealth.model import PatternKind, PatternSpectrum, PointPattern, Recording

Array = NDArray[np.float64]

RATE_HZ, SHAFT_HZ, BAND_HZ = 8000.0, 20.0, (1000.0, 3900.0)
N_SAMPLES = 180_000  # 450 turns
N_RECORDS = 6
# A depth of 0.3 over a floor of 0.023 per line of the record's nine: 0.023 / 3 / 0.3 / root 2 is
# 1.8 % per record, 0.7 % for the mean of six; the ends are faded over a hundredth of the record.
DEPTH, DEPTH_RTOL = 0.3, 0.05


def pattern_of(
    samples: Array, *, pieces: int = 1, band_hz: tuple[float, float] = BAND_HZ, **changes: Any
) -> PointPattern | None:
    facts: dict[str, Any] = {
        "samples": samples,
        "sampling_rate_hz": RATE_HZ,
        "unit": "m/s2",
        "path": "P1X.wav",
        "sha256": "",
    }
    recorded, whitened = [], []
    blocks = np.split(samples, pieces) if pieces > 1 else split_blocks(samples)
    for block in blocks:
        spectra = block_spectra(block, RATE_HZ, shaft_frequency_hz=SHAFT_HZ, lowest_hz=160.0)
        recorded += spectra[0]
        whitened += spectra[1]
    known: dict[str, Any] = {
        "blocks": blocks,
        "rate_hz": RATE_HZ,
        "shaft_frequency_hz": SHAFT_HZ,
        "recorded": recorded,
        "whitened": whitened,
        "band_hz": band_hz,
    }
    own = {key: changes[key] for key in changes.keys() & known.keys()}
    recording = Recording(**facts | {k: changes[k] for k in changes.keys() - own.keys()})
    return point_pattern(recording, **known | own)


def spectrum(pattern: PointPattern | None, kind: PatternKind) -> PatternSpectrum:
    assert pattern is not None
    found = pattern.spectrum(kind)
    assert found is not None
    return found


def at(item: PatternSpectrum, order: float) -> int:
    return int(np.argmin(np.abs(item.order - order)))


def turns(size: int = N_SAMPLES) -> Array:
    found: Array = np.arange(size, dtype=np.float64) * SHAFT_HZ / RATE_HZ
    return found


def modulated_noise(rng: np.random.Generator, order: float, depth: float) -> Array:
    """Noise whose power is ``1 + depth * cos``: its squared envelope has that depth."""
    samples: Array = rng.standard_normal(N_SAMPLES) * np.sqrt(
        1 + depth * np.cos(2 * np.pi * order * turns())
    )
    return samples


@pytest.fixture(scope="module")
def noise() -> PointPattern:
    found = pattern_of(np.random.default_rng(1).standard_normal(N_SAMPLES))
    assert found is not None
    return found


@pytest.fixture(scope="module")
def modulated() -> list[PointPattern]:
    """Six records of noise that swells by 0.3 at 7.14 times the shaft speed."""
    rng = np.random.default_rng(2)
    found = [pattern_of(modulated_noise(rng, 7.14, DEPTH)) for _ in range(N_RECORDS)]
    return [item for item in found if item is not None]


def test_grid_units_and_averages(noise: PointPattern) -> None:
    """Nine lines of the record in each; a Hann window shares 35/36 of a line on both sides."""
    rows = [(s.kind, s.unit, s.band_hz, s.order[0], s.order[-1]) for s in noise.spectra]
    assert rows == [
        ("order-spectrum", "m/s2", None, 0.1, 40.0),
        ("envelope-spectrum", "1", BAND_HZ, 0.1, 30.0),
        ("whitened-envelope-spectrum", "1", BAND_HZ, 0.1, 30.0),
    ]
    for item in noise.spectra:
        np.testing.assert_array_equal(item.order, np.round(item.order, 2))
        np.testing.assert_allclose(np.diff(item.order), 0.02, atol=1e-12)
        assert item.amplitude.shape == item.floor.shape == item.order.shape
    averages = [item.n_averages for item in noise.spectra]
    assert averages == pytest.approx([9 / (1 + 2 * (4 / 9 + 1 / 36)), 9.0, 9.0], rel=1e-6)


@pytest.mark.parametrize("order", [0.5, 1.0, 7.14, 33.3])
def test_a_sinusoid_reads_its_amplitude_at_its_order(order: float) -> None:
    """2 m/s^2 in noise that adds a ten-thousandth of its power to the line."""
    noise = 0.01 * np.random.default_rng(3).standard_normal(N_SAMPLES)
    item = spectrum(
        pattern_of(noise + 2.0 * np.cos(2 * np.pi * order * turns() + 0.3)), "order-spectrum"
    )
    place = at(item, order)
    assert item.amplitude[place] == pytest.approx(2.0, rel=1e-3)
    assert item.order[place] == pytest.approx(order)
    assert int(np.argmax(item.above_floor_db)) == place


def test_floor_of_white_noise(noise: PointPattern) -> None:
    """Mean square 1 over 200 orders: each line of 0.02 holds 1e-4, its amplitude root 2e-4.

    2,000 lines of 4.6 averages: the mean power is known to 1 %, the floor's by its medians to 2 %.
    """
    item = spectrum(noise, "order-spectrum")
    assert np.mean(item.amplitude**2) == pytest.approx(2e-4, rel=0.05)
    assert np.mean(item.floor**2) == pytest.approx(np.mean(item.amplitude**2), rel=0.02)
    scatter = np.var(item.amplitude**2) / np.mean(item.amplitude**2) ** 2
    # The variance of 2,000 gamma values is known to 6 %.
    assert 1 / scatter == pytest.approx(item.n_averages, rel=0.2)


def test_floor_of_an_envelope_of_noise(noise: PointPattern) -> None:
    """Depth of a line of the envelope of noise: 2 / root(lines of the band), nine in each."""
    n_band = (BAND_HZ[1] - BAND_HZ[0]) / (RATE_HZ / N_SAMPLES)
    for kind in ("envelope-spectrum", "whitened-envelope-spectrum"):
        item = spectrum(noise, kind)
        # Near zero frequency; it falls with the frequency over the band's width.
        assert item.floor[:250].mean() == pytest.approx(2 * np.sqrt(9 / n_band), rel=0.05)
        ratio = np.mean(item.floor**2) / np.mean(item.amplitude**2)
        assert ratio == pytest.approx(1.0, abs=0.05)


def test_depth_of_noise_that_swells(modulated: list[PointPattern]) -> None:
    rows = [spectrum(item, "envelope-spectrum") for item in modulated]
    place = at(rows[0], 7.14)
    depth = np.sqrt(np.mean([row.amplitude[place] ** 2 - row.floor[place] ** 2 for row in rows]))
    assert depth == pytest.approx(DEPTH, rel=DEPTH_RTOL)
    assert all(int(np.argmax(row.above_floor_db)) == place for row in rows)


def test_whitening_takes_a_known_share_of_a_depth(modulated: list[PointPattern]) -> None:
    """Lines of unit magnitude keep (root pi / 2)^2 of the correlation of two Gaussian lines."""
    place = at(modulated[0].spectra[1], 7.14)
    recorded, whitened = (
        np.mean([spectrum(item, kind).amplitude[place] for item in modulated])
        for kind in ("envelope-spectrum", "whitened-envelope-spectrum")
    )
    assert whitened / recorded == pytest.approx(np.pi / 4, rel=DEPTH_RTOL)


def test_a_factor_scales_amplitudes_and_no_depth() -> None:
    samples = modulated_noise(np.random.default_rng(4), 7.14, DEPTH)
    one, two = pattern_of(samples), pattern_of(100.0 * samples)
    assert one is not None
    assert two is not None
    for first, second in zip(one.spectra, two.spectra, strict=True):
        factor = 100.0 if first.kind == "order-spectrum" else 1.0
        np.testing.assert_allclose(second.amplitude, factor * first.amplitude, rtol=1e-6)
        np.testing.assert_allclose(second.above_floor_db, first.above_floor_db, atol=1e-5)
    np.testing.assert_allclose(two.bands_db - one.bands_db, 40.0, atol=1e-6)
    np.testing.assert_array_equal(two.bands_centre_hz, one.bands_centre_hz)


def test_pieces_are_averaged() -> None:
    """Three pieces of 150 turns: three lines in each, from three pieces; the power stays."""
    samples = np.random.default_rng(5).standard_normal(N_SAMPLES)
    whole, pieces = pattern_of(samples), pattern_of(samples, pieces=3)
    for kind in ("order-spectrum", "envelope-spectrum"):
        one, three = spectrum(whole, kind), spectrum(pieces, kind)
        assert three.n_averages == pytest.approx(one.n_averages, rel=1e-6)
        ratio = np.mean(three.amplitude**2) / np.mean(one.amplitude**2)
        assert ratio == pytest.approx(1.0, rel=0.05)


def test_harmonics_stand_over_the_first() -> None:
    wave = np.cos(2 * np.pi * turns()) + 0.1 * np.cos(6 * np.pi * turns())
    found = pattern_of(wave + 0.01 * np.random.default_rng(6).standard_normal(N_SAMPLES))
    assert found is not None
    assert found.harmonics_db.shape == (9,)
    assert found.harmonics_db[1] == pytest.approx(-20.0, abs=0.1)
    assert np.isnan(np.delete(found.harmonics_db, 1)).all()


def test_a_band_is_cut_to_what_was_recorded() -> None:
    samples = np.random.default_rng(7).standard_normal(N_SAMPLES)
    item = spectrum(pattern_of(samples, band_hz=(1000.0, 20000.0)), "envelope-spectrum")
    assert item.band_hz == pytest.approx((1000.0, 0.49 * RATE_HZ))


def test_an_uncalibrated_recording_keeps_its_counts(noise: PointPattern) -> None:
    samples = np.random.default_rng(1).standard_normal(N_SAMPLES)
    item = spectrum(pattern_of(samples, unit="counts"), "order-spectrum")
    assert item.unit == "counts"
    np.testing.assert_array_equal(item.amplitude, noise.spectra[0].amplitude)


def test_without_envelopes_the_order_spectrum_stands_alone() -> None:
    samples = np.random.default_rng(8).standard_normal(N_SAMPLES)
    found = pattern_of(samples, recorded=(), whitened=())
    assert found is not None
    assert [item.kind for item in found.spectra] == ["order-spectrum"]
    assert found.spectrum("envelope-spectrum") is None


@pytest.mark.parametrize(("n_turns", "is_read"), [(99, False), (101, True)])
def test_fewer_than_a_hundred_turns_have_no_pattern(n_turns: int, *, is_read: bool) -> None:
    size = int(n_turns * RATE_HZ / SHAFT_HZ)
    samples = np.random.default_rng(9).standard_normal(size)
    assert (pattern_of(samples) is not None) is is_read


def test_no_piece_has_no_pattern() -> None:
    samples = np.random.default_rng(10).standard_normal(N_SAMPLES)
    assert pattern_of(samples, blocks=()) is None


def test_a_silent_channel_has_no_envelope_and_no_pattern() -> None:
    samples = np.random.default_rng(11).standard_normal(N_SAMPLES)
    known = block_spectra(0.0 * samples, RATE_HZ, shaft_frequency_hz=SHAFT_HZ, lowest_hz=160.0)
    assert pattern_of(samples, recorded=known[0], whitened=()) is None
