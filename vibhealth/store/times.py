"""Times as text of one width, in UTC, so that their order as text is their order in time."""

from datetime import UTC, datetime

from vibhealth.errors import StoreError

__all__ = ["time_of", "time_text"]


def time_text(at: datetime, *, name: str = "time") -> str:
    """ISO 8601 in UTC with microseconds.

    Parameters
    ----------
    at : datetime
        Aware of its time zone.
    name : str
        What to call it in a refusal.

    Raises
    ------
    StoreError
        If ``at`` has no time zone.

    Examples
    --------
    >>> from datetime import timedelta, timezone
    >>> time_text(datetime(2026, 3, 1, 1, 30, tzinfo=timezone(timedelta(hours=2))))
    '2026-02-28T23:30:00.000000+00:00'
    """
    if at.utcoffset() is None:
        msg = f"{name} must say its time zone, got {at.isoformat()}: add one, such as +00:00"
        raise StoreError(msg)
    return at.astimezone(UTC).isoformat(timespec="microseconds")


def time_of(text: str) -> datetime:
    """The aware time that `time_text` wrote.

    >>> time_of("2026-02-28T23:30:00.000000+00:00").tzinfo
    datetime.timezone.utc
    """
    return datetime.fromisoformat(text)
