"""Field types of the card: strict, finite, and without silent conversions."""

from typing import Annotated

from pydantic import (
    AfterValidator,
    AllowInfNan,
    BaseModel,
    ConfigDict,
    Field,
    Strict,
    StringConstraints,
)

__all__ = [
    "Band",
    "CardModel",
    "Faults",
    "NonNegative",
    "Number",
    "Percent",
    "Positive",
    "Text",
    "Whole",
    "place",
]

Location = tuple[str | int, ...]

SMALLEST, LARGEST = 1e-6, 1e9

Text = Annotated[str, Strict(), StringConstraints(strip_whitespace=True, min_length=1)]
Whole = Annotated[int, Strict()]
Number = Annotated[float, Strict(), AllowInfNan(False)]


def _plausible(value: float) -> float:
    """Refuse what no machine has in any unit of the card; it would only overflow later."""
    if not SMALLEST <= value <= LARGEST:
        msg = f"must lie between {SMALLEST:g} and {LARGEST:g}"
        raise ValueError(msg)
    return value


Positive = Annotated[Number, Field(gt=0), AfterValidator(_plausible)]
NonNegative = Annotated[Number, Field(ge=0, le=LARGEST)]
Percent = Annotated[Number, Field(gt=0, le=100)]


def _ascending(band: tuple[float, float]) -> tuple[float, float]:
    low, high = band
    if not 0 < low < high:
        msg = "must be [low, high] in Hz with 0 < low < high"
        raise ValueError(msg)
    return band


Band = Annotated[tuple[Number, Number], AfterValidator(_ascending)]


class CardModel(BaseModel):
    """A table of the card: frozen, unknown keys refused, read by its TOML names."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Faults(ValueError):
    """Rules broken between keys: (location below the model, rule, value found) each."""

    def __init__(self, faults: list[tuple[Location, str, object]]) -> None:
        super().__init__("; ".join(f"{place(where)}: {rule}" for where, rule, _ in faults))
        self.faults = tuple(faults)


def place(location: Location) -> str:
    """Dotted path of a key, list positions counted from 1.

    Parameters
    ----------
    location : tuple of str or int
        Keys and 0-based positions, outermost first.

    Returns
    -------
    str

    Examples
    --------
    >>> place(("bearing", 0, "element_count"))
    'bearing[1].element_count'
    """
    path = ""
    for step in location:
        path += f"[{step + 1}]" if isinstance(step, int) else f".{step}" if path else step
    return path
