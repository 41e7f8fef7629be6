"""Read a machine card: TOML to a checked card, every fault one sentence."""

import hashlib
import tomllib
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from vibhealth.card._faults import fault_lines
from vibhealth.card.machine_card import MachineCard
from vibhealth.errors import CardError

__all__ = ["read_card"]

# A card is a page of text; a recording given by mistake must not be parsed for minutes.
LARGEST_CARD_BYTES = 1_000_000


def read_card(path: str | Path) -> MachineCard:
    """Read and check a machine card.

    Parameters
    ----------
    path : str or Path
        TOML file, UTF-8, at most 1 MB.

    Returns
    -------
    MachineCard
        Frozen, with ``path`` and ``sha256`` of the file.

    Raises
    ------
    CardError
        If the file cannot be read, is not TOML, or breaks a rule: one line per
        fault, each with file, key, rule and value found. List positions in a key
        count from 1.
    """
    content = _content(path)
    table = _table(path, content)
    try:
        card = MachineCard.model_validate(table)
    except ValidationError as error:
        lines = fault_lines(error, table)
        raise CardError("\n".join(f"{path}: {line}" for line in lines)) from error
    card._path = str(path)
    card._sha256 = hashlib.sha256(content).hexdigest()
    return card


def _content(path: str | Path) -> bytes:
    file = Path(path)
    try:
        if file.is_dir():
            msg = f"{path}: is a folder; give the machine card's .toml file"
            raise CardError(msg)
        with file.open("rb") as stream:
            content = stream.read(LARGEST_CARD_BYTES + 1)
    except FileNotFoundError as error:
        msg = f"{path}: no such file; make a card with: vibhealth card new {path}"
        raise CardError(msg) from error
    except (OSError, ValueError) as error:
        msg = f"{path}: cannot be read as a machine card ({error})"
        raise CardError(msg) from error
    if len(content) > LARGEST_CARD_BYTES:
        msg = f"{path}: is larger than 1 MB and so no machine card; is it a recording?"
        raise CardError(msg)
    return content


def _table(path: str | Path, content: bytes) -> dict[str, Any]:
    try:
        text = content.decode("utf-8-sig")  # some editors put a byte-order mark first
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        msg = (
            f"{path}: line {line} is not UTF-8 text (byte 0x{content[error.start]:02x}); "
            "save the card as UTF-8"
        )
        raise CardError(msg) from error
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        detail = str(error).replace("at end of document", f"at line {text.count(chr(10)) + 1}, end")
        msg = (
            f"{path}: not valid TOML: {detail} (text stands in quotes, numbers use a decimal point)"
        )
        raise CardError(msg) from error
    except (RecursionError, ValueError) as error:  # absurd nesting, numbers of thousands of digits
        msg = f"{path}: not valid TOML: {type(error).__name__}, nested too deep or number too long"
        raise CardError(msg) from error
