"""What the search named, against what was simulated."""

from collections.abc import Sequence

from vibhealth.diagnosis.analysis import largest_present
from vibhealth.model import Element, FamilyFinding

__all__ = ["is_found", "named_words", "outcome"]

OUTCOMES = ("right", "right-ambiguous", "other-ambiguous", "none", "wrong")


def outcome(findings: Sequence[FamilyFinding], wanted: Element) -> str:
    """``right``, ``right-ambiguous``, ``other-ambiguous``, ``none`` or ``wrong``.

    The largest present family counts. ``other-ambiguous`` names another element and says
    that it could as well be the true one.
    """
    named = largest_present(tuple(findings))
    if named is None:
        return "none"
    if named.element is wanted:
        return "right-ambiguous" if named.ambiguous_with else "right"
    return "other-ambiguous" if wanted.value in named.ambiguous_with else "wrong"


def named_words(findings: Sequence[FamilyFinding]) -> str:
    """The named element for a confusion table, with what it could as well be."""
    named = largest_present(tuple(findings))
    if named is None:
        return "none"
    return " or ".join((named.element.value, *named.ambiguous_with))


def is_found(findings: Sequence[FamilyFinding], wanted: Element) -> bool:
    """Whether the wanted element's family is at watch or hold."""
    return any(
        finding.element is wanted and finding.result.value in {"watch", "hold"}
        for finding in findings
    )
