"""Start a job: its folder, a copy of the machine card, an empty record."""

from pathlib import Path

from vibhealth.card import read_card
from vibhealth.errors import OutputError
from vibhealth.job.editing import write_aside
from vibhealth.job.folder import MOMENTS
from vibhealth.job.reading import RECORD, read_job
from vibhealth.job.record import JobRecord
from vibhealth.job.template import job_template

__all__ = ["new_job"]


def new_job(card_path: str | Path, folder: str | Path) -> JobRecord:
    """Make a job folder for one rebuild.

    Parameters
    ----------
    card_path : str or Path
        Machine card; it is copied, so that the job keeps the card it was judged by.
    folder : str or Path
        Made if it is missing; an existing one must be empty.

    Returns
    -------
    JobRecord
        With nothing answered.

    Raises
    ------
    CardError
        If the card cannot be used.
    OutputError
        If the folder is not empty, or cannot be written.
    """
    card = read_card(card_path)
    root, name = Path(folder), _card_name(Path(card_path))
    try:
        if root.exists() and (not root.is_dir() or any(root.iterdir())):
            what = "is not empty" if root.is_dir() else "is a file"
            msg = f"{root} {what}; give a new folder, one for each rebuild"
            raise OutputError(msg)
        content = Path(card_path).read_bytes()
        for stage, moments in MOMENTS.items():
            (root / stage).mkdir(parents=True)
            for moment in moments:
                (root / stage / moment).mkdir()
    except OSError as error:
        if isinstance(error, OutputError):
            raise
        msg = f"cannot make {root}: {error.strerror or error}; give another folder"
        raise OutputError(msg) from error
    write_aside(root / name, content)
    write_aside(root / RECORD, job_template(card, card_name=name).encode())
    return read_job(root)


def _card_name(card_path: Path) -> str:
    """The card's own name, unless the record needs it or the folder would overlook it."""
    name = card_path.name
    return name if name.endswith(".toml") and name != RECORD else "card.toml"
