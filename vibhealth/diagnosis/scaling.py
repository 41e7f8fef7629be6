"""Ratios that point to a wrong unit or sensitivity, and not to the machine."""

from dataclasses import dataclass

from vibhealth._check import check_positive

__all__ = ["SCALING_RATIOS", "SCALING_TOLERANCE", "Scaling", "scaling_of"]

# Inch and mm, g and m/s2, decades of mV/g (common practice, no source), with what each of them
# usually is. An inch for a centimetre is rare, and a stroke 2.54 times off could be real.
SCALING_RATIOS: dict[float, str] = {
    2.54: "an inch taken for a centimetre",
    9.80665: "g taken for m/s2 or the other way round",
    10.0: "a sensitivity of 10 for 100 mV/g, or a range one step off",
    25.4: "an inch taken for a millimetre",
    100.0: "a sensitivity or gain two steps off",
    1000.0: "mV taken for V, or a gain three steps off",
}
SCALING_TOLERANCE = 0.05
COULD_BE_REAL = (2.54,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scaling:
    """A ratio that smells of a unit.

    ``factor`` is the unit ratio, above 1; ``is_too_big`` whether the reading is that many
    times too big, else too small; ``cause`` what it usually is; ``could_be_real`` whether
    a machine can be off by as much.
    """

    factor: float
    is_too_big: bool
    cause: str
    could_be_real: bool

    @property
    def words(self) -> str:
        """The ratio in words."""
        number = f"{self.factor:.3g}".replace("9.81", "9.8")
        return f"{number} times too {'big' if self.is_too_big else 'small'}"


def scaling_of(ratio: float) -> Scaling | None:
    """Tell whether a reading over its stated value is a known ratio of units.

    Parameters
    ----------
    ratio : float
        Reading over stated value, above 0.

    Returns
    -------
    Scaling or None
        The nearest ratio within 5 %, None where there is none.

    Raises
    ------
    InputError
        If the ratio is not above 0.

    Examples
    --------
    >>> found = scaling_of(1 / 9.9)
    >>> found.words, found.could_be_real
    ('9.8 times too small', False)
    >>> scaling_of(1.2) is None
    True
    """
    value = check_positive(ratio, name="ratio")
    large = max(value, 1 / value)
    factor = min(SCALING_RATIOS, key=lambda known: abs(large / known - 1))
    if abs(large / factor - 1) > SCALING_TOLERANCE:
        return None
    return Scaling(
        factor=factor,
        is_too_big=value > 1,
        cause=SCALING_RATIOS[factor],
        could_be_real=factor in COULD_BE_REAL,
    )
