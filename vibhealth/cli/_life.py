"""Files of ``vibhealth simulate --until-failure``: recordings, sidecars, and the truth."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from vibhealth.cli._output import progress_bar, refuse_existing, talk

__all__ = ["full_scale_of", "write_life"]

FULL_SCALE_G = 50.0  # of the integer forms: the range of the template's sensor
TRUTH = "truth.csv"
COLUMNS = "index,recorded_at,running_hours_h,impact_m_s2,damaged,origin"


def full_scale_of(form: str, given_g: float | None) -> float | None:
    """Full scale in g of a form; None for those that have none."""
    return given_g or (FULL_SCALE_G if form in {"wav-24", "wav-16", "flac"} else None)


def write_life(
    folder: Path,
    card: Any,
    *,
    element: str,
    bearing: str | None,
    settings: Any,
    n_recordings: int,
    interval_days: float | None,
    last_impact_m_s2: float | None,
    form: Any,
    full_scale_g: float | None,
    facts: Mapping[str, Any],
    overwrite: bool,
) -> None:
    """Write the recordings of one life with sidecars, and the truth beside them.

    Parameters
    ----------
    folder : Path
        Made if it does not exist.
    card : MachineCard
        The machine.
    element : str
        Part that fails, a value of `Element`.
    bearing : str or None
        Its bearing; None for the card's first.
    settings : SimulationSettings
        Of the sound machine.
    n_recordings, interval_days, last_impact_m_s2
        As `run_to_failure`; None for its default.
    form, full_scale_g
        As `write_simulated`; None for the usual full scale.
    facts : mapping
        Given for the sidecar: ``start_time`` is that of the first recording, ``temperature_c``
        and ``load`` hold for all.
    overwrite : bool
        Whether existing files may be replaced.

    Raises
    ------
    SettingsError
        As `run_to_failure`.
    OutputError
        If a file exists or cannot be written.
    """
    from vibhealth.model import Element
    from vibhealth.report import file_stem
    from vibhealth.simulate import run_to_failure, write_simulated

    asked: dict[str, Any] = {
        "interval_days": interval_days,
        "last_impact_m_s2": last_impact_m_s2,
        "start_time": facts.get("start_time"),
    }
    life = run_to_failure(
        card,
        element=Element(element),
        bearing=bearing,
        n_recordings=n_recordings,
        seed=settings.seed,
        settings=settings,
        **{key: value for key, value in asked.items() if value is not None},
    )
    suffix = "." + form.partition("-")[0]
    stem = file_stem(card.machine.id)
    paths = [folder / f"{stem}-{number:03d}{suffix}" for number in range(1, n_recordings + 1)]
    names = [name for path in paths for name in (path.name, path.with_suffix(".toml").name)]
    refuse_existing(folder, [*names, TRUTH], overwrite=overwrite)
    folder.mkdir(parents=True, exist_ok=True)
    truth = []
    with progress_bar() as say:
        for path, item in zip(paths, life, strict=True):
            say(path.name, item.index, n_recordings)
            write_simulated(
                path,
                item.simulated,
                form=form,
                full_scale_g=full_scale_of(form, full_scale_g),
                sidecar=_sidecar(item) | dict(facts) | {"start_time": item.recorded_at},
                overwrite=overwrite,
            )
            truth.append(_row(item))
    _write_truth(folder / TRUTH, truth, overwrite=overwrite)
    talk(f"{n_recordings} INVENTED recordings and {TRUTH} written to {folder}")


def _sidecar(item: Any) -> dict[str, Any]:
    return {
        "temperature_c": item.temperature_c,
        "running_hours_h": item.running_hours_h,
        "load": "empty",
    }


def _row(item: Any) -> str:
    damaged = "yes" if item.is_damaged else "no"
    return (
        f"{item.index + 1},{item.recorded_at.isoformat()},{item.running_hours_h:g},"
        f"{item.impact_m_s2:.6g},{damaged},INVENTED"
    )


def _write_truth(path: Path, rows: list[str], *, overwrite: bool) -> None:
    from vibhealth.report import write_document

    write_document(path, "\n".join([COLUMNS, *rows, ""]), overwrite=overwrite)
