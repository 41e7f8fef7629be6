"""Limits in force: those of the card, those that follow from it, and defaults."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from pydantic import Field

from vibhealth.card._types import CardModel, Location, Number, Text
from vibhealth.card._words import nearest
from vibhealth.card.limit_table import BY_ID, LIMIT_DEFINITIONS, ORDERED, WHOLE
from vibhealth.errors import SettingsError

__all__ = ["Limit", "LimitEntry", "Limits", "limit_faults"]


class LimitEntry(CardModel):
    """A limit as the card gives it: value, and in words where it comes from."""

    value: Number
    source: Annotated[Text, Field(max_length=500)] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A limit in force."""

    id: str
    value: float | None
    unit: str
    source: str
    meaning: str


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits in force, each with its value and source.

    Parameters
    ----------
    rows : tuple of Limit
        One per definition, in the order of the table.
    """

    rows: tuple[Limit, ...]

    def _row(self, limit_id: str) -> Limit:
        for row in self.rows:
            if row.id == limit_id:
                return row
        msg = f"limit {limit_id!r} is not known{nearest(limit_id, BY_ID)}"
        raise SettingsError(msg)

    def value(self, limit_id: str) -> float:
        """Value of a limit in its own unit.

        Parameters
        ----------
        limit_id : str
            An id of `LIMIT_DEFINITIONS`.

        Returns
        -------
        float

        Raises
        ------
        SettingsError
            If there is no such limit, or it has no default and the card gives none
            (then ask `optional_value`).

        Examples
        --------
        >>> Limits.default().value("depth_hold")
        0.3
        """
        value = self._row(limit_id).value
        if value is None:
            msg = f"limit {limit_id!r} has no default and the card gives none"
            raise SettingsError(msg)
        return value

    def optional_value(self, limit_id: str) -> float | None:
        """Value of a limit, None where it is not applied.

        Parameters
        ----------
        limit_id : str
            An id of `LIMIT_DEFINITIONS`.

        Returns
        -------
        float or None

        Raises
        ------
        SettingsError
            If there is no such limit.
        """
        return self._row(limit_id).value

    def source(self, limit_id: str) -> str:
        """Where the value of a limit comes from, in words.

        Parameters
        ----------
        limit_id : str
            An id of `LIMIT_DEFINITIONS`.

        Returns
        -------
        str

        Raises
        ------
        SettingsError
            If there is no such limit.
        """
        return self._row(limit_id).source

    @classmethod
    def default(cls) -> "Limits":
        """Limits without any card."""
        return cls.in_force({}, card_name="", derived={})

    @classmethod
    def in_force(
        cls,
        entries: Mapping[str, LimitEntry],
        *,
        card_name: str,
        derived: Mapping[str, tuple[float, str]],
    ) -> "Limits":
        """Limits of a card: given ones first, then derived ones, then defaults.

        Parameters
        ----------
        entries : mapping of str to LimitEntry
            ``[limits]`` of the card.
        card_name : str
            File of the card, for the source text.
        derived : mapping of str to (float, str)
            Defaults that follow from other keys of the card, with their source.

        Returns
        -------
        Limits
        """
        rows = []
        for limit in LIMIT_DEFINITIONS:
            value, source = limit.default, limit.source
            if limit.id in derived:
                value, source = derived[limit.id]
            if limit.id in entries:
                given = entries[limit.id]
                value = given.value
                source = f"card {card_name}".strip() + f", {given.source or 'no source given'}"
            rows.append(
                Limit(
                    id=limit.id, value=value, unit=limit.unit, source=source, meaning=limit.meaning
                )
            )
        return cls(tuple(rows))


def limit_faults(
    entries: Mapping[str, LimitEntry], limits: Limits
) -> list[tuple[Location, str, object]]:
    """Rules that the limits of a card break.

    Parameters
    ----------
    entries : mapping of str to LimitEntry
        As the card gives them.
    limits : Limits
        In force: entries, derived values and defaults together.

    Returns
    -------
    list of (location, rule, value found)
    """
    faults: list[tuple[Location, str, object]] = []
    for limit_id, entry in entries.items():
        limit, where = BY_ID.get(limit_id), ("limits", limit_id)
        if limit is None:
            faults.append((where, f"is not a known limit{nearest(limit_id, BY_ID)}", entry.value))
        elif not limit.low <= entry.value <= limit.high:
            unit = "" if limit.unit == "1" else f" {limit.unit}"
            rule = f"must lie between {limit.low:g} and {limit.high:g}{unit}"
            faults.append((where, rule, entry.value))
        elif limit_id in WHOLE and not math.isclose(entry.value, round(entry.value)):
            faults.append((where, "must be a whole number", entry.value))
    return faults or _order_faults(entries, limits)


def _order_faults(
    entries: Mapping[str, LimitEntry], limits: Limits
) -> list[tuple[Location, str, object]]:
    faults: list[tuple[Location, str, object]] = []
    for lower, upper in ORDERED:
        low, high = limits.optional_value(lower), limits.optional_value(upper)
        if low is None or high is None or low <= high:
            continue
        if lower in entries or upper not in entries:
            rule = f"must not be above {upper} ({high:g}, {limits.source(upper)})"
            faults.append((("limits", lower), rule, low))
        else:
            rule = f"must not be below {lower} ({low:g}, {limits.source(lower)})"
            faults.append((("limits", upper), rule, high))
    return faults
