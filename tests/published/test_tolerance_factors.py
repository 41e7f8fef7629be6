"""Factors of statistical tolerance limits as printed in tables.

One-sided and two-sided at confidence 95 %: ISO 16269-6 and R. E. Odeh, D. B. Owen, Tables for
Normal Tolerance Limits, Marcel Dekker 1980, all from memory. Worked example of 43 values:
NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3, from memory; its two-sided factor is
Howe's approximation, which lies within 0.3 % of the exact one there.
"""

import pytest

from vibhealth.baseline import one_sided_factor, two_sided_factor

PRINTED = 0.5e-3  # three decimals, half a unit of the last, and what rounding of a tie allows
ROUNDING = 1e-5
HOWE_RTOL = 0.003


@pytest.mark.parametrize(
    ("n", "share", "printed"),
    [
        (5, 0.95, 4.203),
        (10, 0.95, 2.911),
        (20, 0.95, 2.396),
        (30, 0.95, 2.220),
        (50, 0.95, 2.065),
        (100, 0.95, 1.927),
        (10, 0.99, 3.981),
        (20, 0.99, 3.295),
    ],
)
def test_one_sided(n: int, share: float, printed: float) -> None:
    found = one_sided_factor(n, share=share, confidence=0.95)
    assert found == pytest.approx(printed, abs=PRINTED + ROUNDING)


@pytest.mark.parametrize(
    ("n", "printed"),
    [
        (2, 36.519),
        (3, 9.789),
        (5, 5.077),
        (10, 3.393),
        (20, 2.760),
        (30, 2.555),
        (50, 2.382),
        (100, 2.234),
    ],
)
def test_two_sided_exact(n: int, printed: float) -> None:
    found = two_sided_factor(n, share=0.95, confidence=0.95)
    assert found == pytest.approx(printed, abs=PRINTED + ROUNDING)


def test_worked_example_of_43_values() -> None:
    one = one_sided_factor(43, share=0.9, confidence=0.99)
    two = two_sided_factor(43, share=0.9, confidence=0.99)
    assert one == pytest.approx(1.8740, abs=0.5e-4 + ROUNDING)
    assert two == pytest.approx(2.217, rel=HOWE_RTOL)
