"""Read a job record: TOML to a checked record, every fault one sentence."""

import hashlib
import tomllib
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from vibhealth.card import MachineCard, read_card
from vibhealth.card._faults import fault_lines, found_text
from vibhealth.card._types import Faults, Location, place
from vibhealth.errors import JobError
from vibhealth.job.record import JobRecord
from vibhealth.job.torque import torque_faults

__all__ = ["RECORD", "check_record", "read_job", "record_bytes", "record_path"]

RECORD = "job.toml"
# A record is some pages of text; a recording given by mistake must not be parsed for minutes.
LARGEST_RECORD_BYTES = 4_000_000


def record_path(folder_or_file: str | Path) -> Path:
    """The record's file, for a job folder or the file itself.

    Parameters
    ----------
    folder_or_file : str or Path
        As the user named it.

    Returns
    -------
    Path
    """
    place = Path(folder_or_file)
    return place / RECORD if place.is_dir() else place


def read_job(folder_or_file: str | Path) -> JobRecord:
    """Read and check a job record, and the machine card beside it.

    A half-filled record is valid: what is missing or empty is not given.

    Parameters
    ----------
    folder_or_file : str or Path
        Job folder, or its ``job.toml`` (UTF-8, at most 4 MB).

    Returns
    -------
    JobRecord
        Frozen, with ``path`` and ``sha256`` of the file and its ``machine_card``.

    Raises
    ------
    JobError
        If the file cannot be read, is not TOML, or breaks a rule: one line per
        fault, each with file, key, rule and value found. List positions in a key
        count from 1.
    CardError
        If the machine card beside it is broken.
    """
    path = record_path(folder_or_file)
    return check_record(record_bytes(path), path)


def check_record(content: bytes, path: Path) -> JobRecord:
    """Check the bytes of a record as if they were in that file.

    Parameters
    ----------
    content : bytes
        TOML, UTF-8.
    path : Path
        Where they are, or are to go; the card stands beside it.

    Returns
    -------
    JobRecord

    Raises
    ------
    JobError
        As `read_job`.
    CardError
        As `read_job`.
    """
    table = _table(path, content)
    try:
        record = JobRecord.model_validate(table)
        card = _card_beside(path, record)
        if card is not None:
            _check_against(record, card)
    except ValidationError as error:
        lines = fault_lines(error, table, model=JobRecord)
        raise JobError("\n".join(f"{path}: {line}" for line in lines)) from error
    except Faults as error:
        msg = "\n".join(f"{path}: {line}" for line in _lines(error))
        raise JobError(msg) from error
    record._path = str(path)
    record._sha256 = hashlib.sha256(content).hexdigest()
    record._card = card
    return record


def _lines(error: Faults) -> list[str]:
    return [
        f"{place(where)}: {rule}, found {found_text(value)}" for where, rule, value in error.faults
    ]


def _card_beside(path: Path, record: JobRecord) -> MachineCard | None:
    name = record.job.card
    if not name:
        return None
    where: Location = ("job", "card")
    if Path(name).name != name or "\\" in name:
        raise Faults([(where, "must be a file name without folder, of the card beside", name)])
    if not (path.parent / name).is_file():
        rule = f"must name the machine card beside this file; copy it to {path.parent}"
        raise Faults([(where, rule, name)])
    return read_card(path.parent / name)


def _check_against(record: JobRecord, card: MachineCard) -> None:
    faults = torque_faults(record, card)
    machine = record.job.machine
    if machine and machine != card.machine.id:
        rule = f"must be the machine of {card.path} ({card.machine.id})"
        faults.insert(0, (("job", "machine"), rule, machine))
    if faults:
        raise Faults(faults)


def record_bytes(path: Path) -> bytes:
    """All bytes of a record's file.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    bytes

    Raises
    ------
    JobError
        If it cannot be read, or is larger than 4 MB.
    """
    try:
        with path.open("rb") as stream:
            content = stream.read(LARGEST_RECORD_BYTES + 1)
    except FileNotFoundError as error:
        folder = path.parent if path.suffix == ".toml" else path
        msg = f"{path}: no such file; start a job with: vibhealth job new CARD {folder}"
        raise JobError(msg) from error
    except (OSError, ValueError) as error:
        msg = f"{path}: cannot be read as a job record ({error})"
        raise JobError(msg) from error
    if len(content) > LARGEST_RECORD_BYTES:
        msg = f"{path}: is larger than 4 MB and so no job record; is it a recording?"
        raise JobError(msg)
    return content


def _table(path: Path, content: bytes) -> dict[str, Any]:
    try:
        return tomllib.loads(content.decode("utf-8-sig"))  # some editors put a mark first
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        msg = (
            f"{path}: line {line} is not UTF-8 text (byte 0x{content[error.start]:02x}); "
            "save the record as UTF-8"
        )
        raise JobError(msg) from error
    except tomllib.TOMLDecodeError as error:
        msg = (
            f"{path}: not valid TOML: {error}; put that line right in a text editor (text stands in "
            "quotes, numbers use a decimal point)"
        )
        raise JobError(msg) from error
    except (RecursionError, ValueError) as error:  # absurd nesting, numbers of thousands of digits
        msg = f"{path}: not valid TOML: {type(error).__name__}, nested too deep or number too long"
        raise JobError(msg) from error
