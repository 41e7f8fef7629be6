"""Words shared by the card's messages."""

import difflib
from collections.abc import Iterable

__all__ = ["nearest"]


def nearest(word: str, known: Iterable[str]) -> str:
    """Suggestion for a misspelt key: `` (did you mean 'x'?)``, or the known ones.

    Parameters
    ----------
    word : str
        As found.
    known : iterable of str
        What is allowed there.

    Returns
    -------
    str
        In brackets; lists all known words where none is near, and is
        empty where nothing is known.

    Examples
    --------
    >>> nearest("elements_count", ["element_count", "rows"])
    " (did you mean 'element_count'?)"
    """
    names = sorted(known)
    close = difflib.get_close_matches(word, names, n=1, cutoff=0.6)
    if close:
        return f" (did you mean {close[0]!r}?)"
    return f" (known here: {', '.join(names)})" if names else ""
