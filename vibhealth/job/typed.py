"""What somebody types at the machine, as values: numbers, lists, times."""

import math
import re
from datetime import datetime

from vibhealth.errors import JobError

__all__ = ["in_form_of", "typed_number", "typed_numbers", "typed_time"]

NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)")
CLOCK = re.compile(r"(\d{1,2}):(\d{2})")


def typed_numbers(text: str) -> tuple[float, ...]:
    """Numbers separated by blanks or semicolons; decimal point or comma.

    A unit behind the last number is left out.

    Parameters
    ----------
    text : str
        As typed.

    Returns
    -------
    tuple of float
        At least one.

    Raises
    ------
    JobError
        If anything in it is no number.

    Examples
    --------
    >>> typed_numbers("16,5 15; 17 mm")
    (16.5, 15.0, 17.0)
    """
    words = text.replace(";", " ").split()
    words = [word[:-1] if len(word) > 1 and word.endswith(",") else word for word in words]
    if len(words) > 1 and NUMBER.match(words[-1]) is None:
        words = words[:-1]
    return tuple(_number(word) for word in words) or (_number(text),)


def typed_number(text: str) -> float:
    """One number; a unit behind it is left out.

    Parameters
    ----------
    text : str
        As typed.

    Returns
    -------
    float

    Raises
    ------
    JobError
        If it is not one number.

    Examples
    --------
    >>> typed_number("4,5 l")
    4.5
    """
    numbers = typed_numbers(text)
    if len(numbers) != 1:
        msg = f"one number is asked for, not {len(numbers)}; type it again"
        raise JobError(msg)
    return numbers[0]


def _number(word: str) -> float:
    if NUMBER.fullmatch(word) is None or not math.isfinite(float(word.replace(",", "."))):
        msg = f'"{word[:40]}" is no number; type it as 4.5'
        raise JobError(msg)
    return float(word.replace(",", "."))


def typed_time(text: str, *, now: datetime) -> datetime:
    """A time: ``now``, a clock time of today, or date and time.

    Parameters
    ----------
    text : str
        ``now``, ``13:05``, ``2031-03-05 13:05``, with an offset or without (then
        local time).
    now : datetime
        With offset.

    Returns
    -------
    datetime
        With offset, whole seconds, not after ``now``.

    Raises
    ------
    JobError
        If it is no time, or lies in the future.
    """
    at = _time(text.strip(), now)
    if at > now:
        msg = f"{at.isoformat(sep=' ')} lies in the future; type date and time, or now"
        raise JobError(msg)
    return at


def _time(text: str, now: datetime) -> datetime:
    if text.lower() == "now":
        return now.replace(microsecond=0)
    clock = CLOCK.fullmatch(text)
    try:
        if clock is not None:
            hour, minute = int(clock[1]), int(clock[2])
            return now.replace(hour=hour, minute=minute, second=0, microsecond=0)
        has_clock = CLOCK.search(text) is not None  # a date alone is no time
        at = datetime.fromisoformat(text if has_clock else "")
        return at.astimezone().replace(microsecond=0)  # without an offset: local time
    except (ValueError, OverflowError, OSError) as error:
        msg = f'"{text[:40]}" is no time; type 13:05, 2031-03-05 13:05, or now'
        raise JobError(msg) from error


def in_form_of(at: datetime, others: list[datetime]) -> datetime:
    """A time in the form of those already in the record, so that both can be compared.

    Parameters
    ----------
    at : datetime
        With offset.
    others : list of datetime
        Of one form.

    Returns
    -------
    datetime
        Without offset where the others have none.
    """
    is_local = bool(others) and others[0].utcoffset() is None
    return at.replace(tzinfo=None) if is_local else at
