"""The invented jobs of the demo: a card, records, and recordings of a good and a bad rebuild."""

import shutil
from pathlib import Path

__all__ = ["CARD", "JOBS", "demo_card", "make_job"]

CARD = "F3.toml"
RATE_HZ = 10_240.0
BY = "A. Fitter (invented)"
# Job folder and the mistake that its crew made and did not see.
JOBS: dict[str, str | None] = {"job-good": None, "job-bad": "brinelled"}


def demo_card() -> str:
    """Return the card template, with a bearing band that the demo's sampling rate can hold."""
    from vibhealth.card import card_template

    return card_template().replace(
        "bearing_band_hz = [1000.0, 10000.0]", "bearing_band_hz = [1000.0, 5000.0] "
    )


def make_job(card: Path, folder: Path, *, fault: str | None, seconds: float, seed: int) -> None:
    """Write a whole job: card, record with every question answered, recordings.

    Parameters
    ----------
    card : Path
        The demo's card; a copy goes into the job.
    folder : Path
        Of the job; made, or written into.
    fault : str or None
        Mistake of the rebuild, as `rebuild_recordings` knows it; None for a good one.
    seconds : float
        Length of each steady recording, above 0.
    seed : int
        At least 0.
    """
    from vibhealth.card import read_card
    from vibhealth.job import Phase, filled_record
    from vibhealth.model import Moment, Stage
    from vibhealth.simulate import rebuild_recordings, write_rebuild

    folder.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(card, folder / CARD)
    the_card = read_card(folder / CARD)
    made = rebuild_recordings(
        the_card,
        fault=fault,
        seed=seed,
        seconds=seconds,
        sampling_rate_hz=RATE_HZ,
        with_as_found=True,
    )
    before = [item.name for item in made if item.stage is Stage.AS_FOUND]
    kept = [item for item in made if item.name not in before[1:]]  # one of the old unit will do
    started = next(item.start_time for item in made if item.moment is Moment.RUN_UP)
    record = filled_record(the_card, by=BY, at=started, until=Phase.HOUR_1)
    (folder / "job.toml").write_text(record, "utf-8")
    write_rebuild(kept, folder)
