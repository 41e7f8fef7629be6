"""``vibhealth compare``: two or more recordings, baselines or signatures side by side."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from vibhealth import __version__
from vibhealth.cli import _options as option
from vibhealth.cli._baselines import is_baseline_folder, now
from vibhealth.cli._load import Source, checked_speed, read_options, read_points
from vibhealth.cli._output import (
    FIGURES,
    emit,
    generated_at,
    progress_bar,
    refuse_existing,
    talk,
    terminal_form,
    write_report,
)
from vibhealth.errors import BaselineError

if TYPE_CHECKING:
    from vibhealth.baseline import Comparison, Side
    from vibhealth.card import MachineCard
    from vibhealth.model import Recording, RecordingAnalysis
    from vibhealth.recording import ReadOptions
    from vibhealth.report import CompareView

__all__ = ["compare"]

HTML, JSON = "compare.html", "compare.json"
NAMES = (HTML, JSON, FIGURES)


def compare(
    sources: Annotated[
        list[Path],
        typer.Argument(
            metavar="A B ...",
            help="Recordings, folders of baselines, or of reference signatures; A is the reference.",
        ),
    ],
    *,
    card: option.CardOption,
    point: option.PointOption = None,
    channel: option.ChannelOption = None,
    unit: option.UnitOption = None,
    rate: option.RateOption = None,
    speed_rpm: option.SpeedOption = None,
    full_scale_g: option.FullScaleGOption = None,
    sensitivity_mv_per_g: option.SensitivityOption = None,
    full_scale_v: option.FullScaleVOption = None,
    details: Annotated[bool, typer.Option("--details", help="Print every level.")] = False,
    json: option.JsonOption = False,
    output: option.OutputOption = None,
    overwrite: option.OverwriteOption = False,
) -> None:
    """Compare in orders: spectra, envelope spectra, families, levels, motion, lines above A."""
    from vibhealth.card import read_card
    from vibhealth.report import compare_dict, compare_text, dumps

    options = read_options(
        rate_hz=rate,
        unit=unit,
        full_scale_g=full_scale_g,
        sensitivity_mv_per_g=sensitivity_mv_per_g,
        full_scale_v=full_scale_v,
    )
    if output is not None:
        tables = [path.name for path in output.glob("*.csv")] if output.is_dir() else []
        refuse_existing(output, (*NAMES, *tables), overwrite=overwrite)
    if len(sources) < 2:
        msg = "give at least two recordings or baselines to compare"
        raise BaselineError(msg)
    the_card = read_card(card)
    analyses = _analyses(sources, the_card, options, point, channel, checked_speed(speed_rpm))
    found = [
        _compared(name, sources, analyses, the_card)
        for name in _points(sources, analyses, point, the_card)
    ]
    document = {
        "schema_version": 1,
        "tool": {"name": "vibhealth", "version": __version__},
        "machine": {"id": the_card.machine.id, "name": the_card.machine.name},
        "comparisons": [compare_dict(view, comparison) for view, comparison in found],
    }
    if json:
        emit(dumps(document))
    else:
        width, color = terminal_form()
        texts = [compare_text(view, width=width, color=color, details=details) for view, _ in found]
        emit("\n".join(texts))
    if output is not None:
        _write(output, found, dumps(document), overwrite=overwrite)


def _is_signature(path: Path) -> bool:
    return (path / "facts.toml").is_file()


def _analyses(
    sources: Sequence[Path],
    card: "MachineCard",
    options: "ReadOptions",
    point: str | None,
    channel: int | None,
    speed_rpm: float | None,
) -> "dict[Path, list[RecordingAnalysis]]":
    """Analyses of the recordings among the sources, by file."""
    from vibhealth.acceptance import analyze_all
    from vibhealth.model import Stage

    recordings: list[Recording] = []
    for path in dict.fromkeys(sources):
        if path.is_dir() and (is_baseline_folder(path) or _is_signature(path)):
            continue
        if path.is_dir():
            msg = (
                f"{path}: a folder, but neither a baseline nor a reference signature; give a "
                "recording, or the folder of one version such as reference_spectra/F3/P1X/v1"
            )
            raise BaselineError(msg)
        source = Source(path=path, options=options, point=point, channel=channel)
        recordings += read_points(source, card, Stage.UNSTATED)
    with progress_bar() as say:
        found = analyze_all(recordings, card=card, given_speed_rpm=speed_rpm, progress=say)
    by_file: dict[Path, list[RecordingAnalysis]] = {}
    for analysis in found:
        if card.is_on_body(analysis.recording.point):
            by_file.setdefault(Path(analysis.recording.path), []).append(analysis)
    for recording in recordings:
        if Path(recording.path) not in by_file:
            msg = (
                f"{recording.path}: {recording.point} does not move with the body, and only points "
                "there are compared; give a recording of one"
            )
            raise BaselineError(msg)
    return by_file


def _points(
    sources: Sequence[Path],
    analyses: "dict[Path, list[RecordingAnalysis]]",
    wanted: str | None,
    card: "MachineCard",
) -> list[str]:
    """Points that all sides have; a signature has every point."""
    from vibhealth.baseline import read_baseline

    sets: list[list[str]] = []
    for path in sources:
        if path in analyses:
            sets.append([str(a.recording.point) for a in analyses[path]])
        elif is_baseline_folder(path):
            sets.append([read_baseline(path).point])
    if not sets:
        return ["reference signatures" if wanted is None else _on_card(wanted, card)]
    common = [name for name in sets[0] if all(name in other for other in sets)]
    seen = "; ".join(", ".join(names) for names in sets)
    if not common:
        msg = f"no measurement point is in all of them ({seen}); compare recordings of one point"
        raise BaselineError(msg)
    if wanted is not None:
        common = [name for name in common if name.casefold() == wanted.casefold()]
    if not common:
        msg = f"point {wanted} is not in all of them ({seen}); name one that is"
        raise BaselineError(msg)
    return common


def _on_card(name: str, card: "MachineCard") -> str:
    """The card's name of a point, whatever its case."""
    known = {point.name.casefold(): point.name for point in card.points}
    return card.point(known.get(name.casefold(), name)).name


def _compared(
    point: str,
    sources: Sequence[Path],
    analyses: "dict[Path, list[RecordingAnalysis]]",
    card: "MachineCard",
) -> "tuple[CompareView, Comparison]":
    from vibhealth.acceptance import condition_limits, line_settings
    from vibhealth.baseline import compare_sides
    from vibhealth.report import compare_view

    direction = next((p.direction for p in card.points if p.name == point), "x")
    sides = [_side(path, point, direction, analyses, card) for path in sources]
    comparison = compare_sides(
        sides, conditions=condition_limits(card.limits), settings=line_settings(card)
    )
    view = compare_view(
        comparison,
        point=point,
        machine=card.machine.name,
        bearings=card.rolling_bearings(),
        slip_percent=card.analysis.slip_percent,
    )
    return view, comparison


def _side(
    path: Path,
    point: str,
    direction: str,
    analyses: "dict[Path, list[RecordingAnalysis]]",
    card: "MachineCard",
) -> "Side":
    from vibhealth.baseline import Side, gather, read_baseline, read_signature

    if path in analyses:
        of_point = [a for a in analyses[path] if a.recording.point == point]
        readings = gather(of_point, card=card, point=point, made_at=now())
        return Side(label=str(path), kind="recording", readings=readings)
    if _is_signature(path):
        signature = read_signature(path, direction=direction)
        return Side(
            label=f"signature {signature.name}",
            kind="signature",
            readings=signature.spectra,
            meaning=signature.meaning,
        )
    baseline = read_baseline(path)
    return Side(label=f"{baseline.name} ({path})", kind="baseline", readings=baseline)


def _write(
    folder: Path,
    found: "Sequence[tuple[CompareView, Comparison]]",
    document: str,
    *,
    overwrite: bool,
) -> None:
    from vibhealth.report import compare_csv, compare_html, compare_images, file_stem

    images = [compare_images(comparison, view.point) for view, comparison in found]
    html = compare_html(
        [view for view, _ in found], images, generated_at=generated_at(), version=__version__
    )
    stems = [file_stem(view.point) for view, _ in found]
    tables = {
        f"{stem}{f'-{place}' if stem in stems[:place] else ''}-{name}": text
        for place, (stem, (_, comparison)) in enumerate(zip(stems, found, strict=True))
        for name, text in compare_csv(comparison).items()
    }
    figures = {f"{image.name}.png": image.png for of_point in images for image in of_point}
    write_report(folder, {HTML: html, JSON: document, **tables}, figures, overwrite=overwrite)
    talk(f"Figures, tables and {HTML} are in {folder}")
