"""Window figures against the published tables.

F. J. Harris, "On the use of windows for harmonic analysis with the discrete Fourier
transform", Proc. IEEE 66 (1978) 51-83, table I: values from memory. The 75 % and 50 %
overlap correlations of the Hann window are from the same table (65.9 and 16.7 %, from memory).
G. Heinzel, A. Ruediger, R. Schilling, "Spectrum and spectral density estimation by the DFT",
MPI/AEI report (2002), for the five-term flat top: 3.77 lines and 0.01 dB, from memory.
"""

import pytest

from vibhealth.signal import overlap_correlation, window_gains, window_samples
from vibhealth.signal.windows import WindowName

N_SAMPLES = 4096
# The tables print two decimals of lines and dB: half a unit of the last digit, and 1e-4 for
# the difference between a finite window and the limit of a long one.
PRINTED = 0.005 + 1e-4
# Hamming: 1.37 lines and 1.78 dB (or 1.36 and 1.78) are printed, the exact window 0.54 + 0.46 cos
# gives 1.3628 and 1.7514; the table's scallop loss belongs to a slightly different coefficient.
HAMMING_DB = 0.03


@pytest.mark.parametrize(
    ("name", "gain", "lines", "scallop_db"),
    [
        ("rectangular", 1.00, 1.00, 3.92),
        ("hann", 0.50, 1.50, 1.42),
        ("blackman", 0.42, 1.73, 1.10),
        ("blackman-harris", 0.36, 2.00, 0.83),
        ("flat-top", 0.22, 3.77, 0.01),
    ],
)
def test_harris_table(name: WindowName, gain: float, lines: float, scallop_db: float) -> None:
    gains = window_gains(name, N_SAMPLES)
    assert gains.coherent_gain == pytest.approx(gain, abs=PRINTED)
    assert gains.noise_bandwidth_lines == pytest.approx(lines, abs=PRINTED)
    assert gains.scallop_loss_db == pytest.approx(scallop_db, abs=PRINTED)


def test_hamming_is_the_exact_window_not_the_printed_one() -> None:
    gains = window_gains("hamming", N_SAMPLES)
    assert gains.coherent_gain == pytest.approx(0.54, abs=1e-12)
    # closed form: (0.54^2 + 0.46^2 / 2) / 0.54^2
    assert gains.noise_bandwidth_lines == pytest.approx(1.0 + 0.5 * (0.46 / 0.54) ** 2, abs=1e-12)
    assert gains.scallop_loss_db == pytest.approx(1.78, abs=HAMMING_DB)


@pytest.mark.parametrize(
    ("name", "worst_db"),
    [  # Harris 1978 table I, worst-case process loss, from memory: 3.92, 3.18, 3.10, 3.47, 3.85
        ("rectangular", 3.92),
        ("hann", 3.18),
        ("hamming", 3.10),
        ("blackman", 3.47),
        ("blackman-harris", 3.85),
    ],
)
def test_worst_case_loss(name: WindowName, worst_db: float) -> None:
    assert window_gains(name, N_SAMPLES).worst_case_loss_db == pytest.approx(worst_db, abs=PRINTED)


@pytest.mark.parametrize(
    ("name", "three_quarters", "half"),
    [  # Harris 1978 table I, overlap correlation in per cent, from memory
        ("rectangular", 75.0, 50.0),
        ("hann", 65.9, 16.7),
        ("hamming", 70.7, 23.4),
        ("blackman", 56.7, 9.0),
        ("blackman-harris", 46.0, 3.8),
    ],
)
def test_overlap_correlation(name: WindowName, three_quarters: float, half: float) -> None:
    window = window_samples(name, N_SAMPLES)
    one_decimal = 0.05 + 1e-3
    assert 100 * overlap_correlation(window, N_SAMPLES // 4) == pytest.approx(
        three_quarters, abs=one_decimal
    )
    assert 100 * overlap_correlation(window, N_SAMPLES // 2) == pytest.approx(half, abs=one_decimal)
