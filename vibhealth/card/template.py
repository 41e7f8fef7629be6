"""The commented template of a machine card."""

from importlib.resources import files

from vibhealth.card.limit_table import LIMIT_DEFINITIONS, LimitDefinition

__all__ = ["card_template"]

LIMITS_HEADING = """\
# Every limit is optional: what is not given keeps its default, and the report prints each with
# its source. Give a number, or a number and where it comes from:
#   harmonic_ratio_hold = { value = 0.4, source = "three rebuilds of this machine" }
[limits]
"""


def card_template() -> str:
    """Commented TOML of an invented machine in which every key is explained.

    Returns
    -------
    str
        Passes `read_card` as it stands.

    Examples
    --------
    >>> card_template().splitlines()[0]
    '# Machine card: what vibhealth must know of one machine before it can judge a recording.'
    """
    text = files("vibhealth.card").joinpath("template.toml").read_text("utf-8")
    return text + LIMITS_HEADING + "".join(_limit_lines(limit) for limit in LIMIT_DEFINITIONS)


def _limit_lines(limit: LimitDefinition) -> str:
    unit = "" if limit.unit == "1" else f" {limit.unit}"
    span = f"{_plain(limit.low)} to {_plain(limit.high)}{unit}"
    default = "no default" if limit.default is None else f"default {_plain(limit.default)}"
    example = limit.low if limit.default is None else limit.default
    return (
        f"\n# {limit.meaning[0].upper()}{limit.meaning[1:]}.\n"
        f"# {span}, {default}; source: {limit.source}.\n"
        f"# {limit.id} = {_plain(example)}\n"
    )


def _plain(number: float) -> str:
    """A number without exponent and without trailing zeros."""
    return f"{number:.9f}".rstrip("0").rstrip(".")
