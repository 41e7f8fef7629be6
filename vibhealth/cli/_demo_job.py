"""The invented jobs of the demo: a card, records, and recordings of a good and a bad rebuild."""

import hashlib
import shutil
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from vibhealth.card import MachineCard
    from vibhealth.model import Recording
    from vibhealth.simulate import RebuildRecording

__all__ = ["BASELINES", "CARD", "JOBS", "demo_card", "make_baselines", "make_job"]

CARD = "F3.toml"
BASELINES = "reference_spectra"
RATE_HZ = 10_240.0
BY = "A. Fitter (invented)"
ENGINEER = "E. Engineer (invented)"
# What stands in the template as an example, and is a fact of the demo's machine.
FILLED_IN = (
    "element_type", "static_load_rating_kn", "fatigue_load_limit_kn", "viscosity_40c_mm2_s",
    "viscosity_100c_mm2_s", "operating_temperature_c", "cleanliness", "running_hours_per_day",
    "currency", "planned_cost", "unplanned_cost", "spare_on_shelf", "spare_lead_time_days",
)  # fmt: skip
LAST_REBUILD = timedelta(days=400)
# Job folder and the mistake that its crew made and did not see.
JOBS: dict[str, str | None] = {"job-good": None, "job-bad": "brinelled"}


def demo_card() -> str:
    """Return the card template, with a band that the demo's rate can hold, and the costs filled in."""
    from vibhealth.card import card_template

    text = card_template().replace(
        "bearing_band_hz = [1000.0, 10000.0]", "bearing_band_hz = [1000.0, 5000.0] "
    )
    for key in FILLED_IN:
        text = text.replace(f"\n# {key} = ", f"\n{key} = ")
    return text


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


def make_baselines(card: Path, folder: Path, *, seconds: float, seed: int) -> None:
    """Keep the machine's known-good reference, from before its bearing wore.

    Parameters
    ----------
    card : Path
        The demo's card.
    folder : Path
        Folder of baselines.
    seconds : float
        Length of each recording, above 0.
    seed : int
        As of the jobs: the same machine.
    """
    from vibhealth.acceptance import analyze_all, orbits_of
    from vibhealth.baseline import build_baseline, store_baseline
    from vibhealth.card import read_card
    from vibhealth.model import Moment
    from vibhealth.simulate import rebuild_recordings

    the_card = read_card(card)
    made = rebuild_recordings(
        the_card,
        fault=None,
        seed=seed,
        seconds=seconds,
        sampling_rate_hz=RATE_HZ,
        checks=(Moment.HOUR_24.value,),
        with_start_and_stop=False,
    )
    recordings = [recording for item in made for recording in _as_recorded(item, the_card)]
    analyses = analyze_all(recordings, card=the_card)
    orbits = tuple(orbits_of(analyses, the_card))
    for point in dict.fromkeys(a.recording.point for a in analyses):
        store_baseline(
            folder,
            build_baseline(
                [a for a in analyses if a.recording.point == point],
                card=the_card,
                made_at=made[-1].start_time - LAST_REBUILD,
                accepted_by=ENGINEER,
                orbits=orbits,
            ),
        )


def _as_recorded(item: "RebuildRecording", card: "MachineCard") -> "Iterator[Recording]":
    """The points of an invented recording on the body, dated back to the last rebuild."""
    from vibhealth.model import Calibration, Recording

    simulated = item.simulated
    names = zip(simulated.points, simulated.directions, simulated.samples, strict=True)
    for channel, (point, direction, samples) in enumerate(names, start=1):
        if not card.is_on_body(point):
            continue
        sensor = card.sensor(card.point(point).sensor)
        yield Recording(
            samples=samples,
            sampling_rate_hz=simulated.sampling_rate_hz,
            unit="m/s2",
            path=f"last-rebuild/{item.name}.flac",
            sha256=hashlib.sha256(samples.tobytes()).hexdigest(),
            channel=channel,
            n_channels=len(simulated.points),
            point=point,
            direction=direction,
            calibration=Calibration(scale_m_s2=1.0, source="simulated in m/s2"),
            sensor_range_m_s2=sensor.range_m_s2,
            sensor_usable_hz=sensor.usable_hz,
            start_time=item.start_time - LAST_REBUILD,
            temperature_c=item.temperature_c,
            remarks=(("load", "empty"), ("remarks", "INVENTED: made by simulation")),
        )
