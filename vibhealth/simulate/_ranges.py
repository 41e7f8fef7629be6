"""One rule for every number of a setting."""

import math

from vibhealth.errors import SettingsError

__all__ = ["check_range"]


def check_range(
    name: str, value: float, low: float, high: float, *, low_allowed: bool = True
) -> None:
    """Refuse a number outside its range with one sentence.

    Parameters
    ----------
    name : str
        Name for the message.
    value, low, high : float
        The number and its range; ``high`` itself is allowed.
    low_allowed : bool
        Whether ``low`` itself is allowed.

    Raises
    ------
    SettingsError
        If the value is not finite or outside the range.
    """
    is_inside = math.isfinite(value) and (low <= value if low_allowed else low < value)
    if not (is_inside and value <= high):
        bracket = "[" if low_allowed else "("
        msg = f"{name} must lie in {bracket}{low:g}, {high:g}], got {value}"
        raise SettingsError(msg)
