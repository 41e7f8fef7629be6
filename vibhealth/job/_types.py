"""Field types of the job record: strict, and an empty text stands for "not given"."""

from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, Strict, StringConstraints

from vibhealth.card._types import NonNegative, Number, Positive

__all__ = [
    "Answer",
    "Litres",
    "Millimetres",
    "Name",
    "Note",
    "OrNone",
    "Temperature",
    "Time",
    "Torque",
    "blank_is_none",
    "real_name",
]

Answer = Literal["yes", "no", "not checked"]

Note = Annotated[str, Strict(), StringConstraints(strip_whitespace=True)]


def real_name(text: str) -> str:
    """The text, or nothing where no letter and no digit is in it: "?" and "-" are no names."""
    return text if any(letter.isalnum() for letter in text) else ""


Name = Annotated[str, Strict(), StringConstraints(strip_whitespace=True), AfterValidator(real_name)]
# No source: a gear case holds litres, not cubic metres; a figure in millilitres is refused.
Litres = Annotated[NonNegative, Field(le=1000)]
Millimetres = Annotated[NonNegative, Field(le=1000)]
Temperature = Annotated[Number, Field(ge=-60, le=300)]
Torque = Positive

FIRST_YEAR, LAST_YEAR = 1990, 2199


def _plausible(at: datetime) -> datetime:
    if not FIRST_YEAR <= at.year <= LAST_YEAR:
        msg = f"must lie in the years {FIRST_YEAR} to {LAST_YEAR}"
        raise ValueError(msg)
    return at


Time = Annotated[datetime, Strict(), AfterValidator(_plausible)]


def blank_is_none(value: Any) -> Any:
    """An empty text where a number or a time belongs: not given yet.

    Examples
    --------
    >>> blank_is_none("") is None
    True
    >>> blank_is_none(4.5)
    4.5
    """
    return None if isinstance(value, str) and not value.strip() else value


OrNone = BeforeValidator(blank_is_none)
