"""Values as TOML text."""

import re
from datetime import datetime

from vibhealth.errors import InputError

__all__ = ["Value", "toml_value"]

Value = str | bool | int | float | datetime | tuple["Value", ...] | list["Value"]

ESCAPES = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\r": "\\r", "\t": "\\t"}
CONTROL = re.compile(r'[\\"\x00-\x1f\x7f]')


def toml_value(value: Value) -> str:
    r"""A value as TOML on one line; a list of lists with one row per line.

    Parameters
    ----------
    value : str, bool, int, float, datetime, or a sequence of these
        Numbers finite.

    Returns
    -------
    str

    Raises
    ------
    InputError
        If a text holds what UTF-8 cannot.

    Examples
    --------
    >>> toml_value('say "a"'), toml_value((1.0, 2.5)), toml_value(True)
    ('"say \\"a\\""', '[1.0, 2.5]', 'true')
    """
    if isinstance(value, str):
        return f'"{CONTROL.sub(_escaped, _utf8(value))}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, int | float):
        return repr(float(value) if isinstance(value, float) else int(value))
    if value and all(isinstance(row, tuple | list) for row in value):
        return "[\n" + "".join(f"  {toml_value(row)},\n" for row in value) + "]"
    return f"[{', '.join(toml_value(entry) for entry in value)}]"


def _escaped(sign: re.Match[str]) -> str:
    return ESCAPES.get(sign[0], f"\\u{ord(sign[0]):04x}")


def _utf8(text: str) -> str:
    try:
        text.encode()
    except UnicodeEncodeError as error:
        msg = f"the text {text!a} holds a sign that is not UTF-8; type it again"
        raise InputError(msg) from error
    return text
