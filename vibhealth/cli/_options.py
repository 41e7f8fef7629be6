"""Options shared by several commands, declared once."""

from pathlib import Path
from typing import Annotated, Literal

import typer

__all__ = [
    "CardOption",
    "ChannelOption",
    "FullScaleGOption",
    "FullScaleVOption",
    "JsonOption",
    "OptionalCardOption",
    "OutputOption",
    "OverwriteOption",
    "PointOption",
    "PulsesOption",
    "RateOption",
    "ResampleOption",
    "SensitivityOption",
    "SpeedOption",
    "TachometerOption",
    "TimeColumnOption",
    "Unit",
    "UnitOption",
    "VariableOption",
]

Unit = Literal["g", "m/s2", "counts"]

CardOption = Annotated[
    Path, typer.Option("--card", help="Machine card; make one with: vibhealth card new CARD")
]
OptionalCardOption = Annotated[
    Path | None, typer.Option("--card", help="Machine card, for nominal speed and calibration.")
]
PointOption = Annotated[
    str | None, typer.Option("--point", help="Measurement point, as named on the card.")
]
ChannelOption = Annotated[
    int | None, typer.Option("--channel", help="Channel of the file, counted from 1.")
]
UnitOption = Annotated[
    Unit | None,
    typer.Option("--unit", help="Unit of the file's values; counts: no calibration."),
]
RateOption = Annotated[
    float | None,
    typer.Option("--rate", help="Sampling rate in Hz, where the file states none."),
]
SpeedOption = Annotated[
    float | None,
    typer.Option("--speed-rpm", help="Shaft speed in r/min, from a strobe or a tachometer."),
]
FullScaleGOption = Annotated[
    float | None, typer.Option("--full-scale-g", help="Acceleration in g of a full-scale sample.")
]
SensitivityOption = Annotated[
    float | None,
    typer.Option("--sensitivity-mv-per-g", help="Sensitivity in mV/g; with --full-scale-v."),
]
FullScaleVOption = Annotated[
    float | None, typer.Option("--full-scale-v", help="Voltage of a full-scale sample, peak.")
]
VariableOption = Annotated[
    str | None, typer.Option("--variable", help="Array inside an .npz or .mat file.")
]
TimeColumnOption = Annotated[
    str | None,
    typer.Option("--time-column", help="Time column of a table: name, or number from 1."),
]
ResampleOption = Annotated[
    bool, typer.Option("--resample", help="Resample uneven time stamps to an even spacing.")
]
TachometerOption = Annotated[
    int | None,
    typer.Option("--tachometer-channel", help="Channel of the file that holds the tachometer."),
]
PulsesOption = Annotated[
    float, typer.Option("--tachometer-pulses-per-turn", help="Pulses of the tachometer per turn.")
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON instead of text.")]
OutputOption = Annotated[
    Path | None, typer.Option("--output", help="Folder for the report and its figures.")
]
OverwriteOption = Annotated[bool, typer.Option("--overwrite", help="Replace existing files.")]
