"""``vibhealth simulate``: recordings of an invented exciter with a chosen fault."""

from datetime import datetime
from pathlib import Path
from typing import Annotated, Any, Literal

import typer

from vibhealth.cli import _options as option
from vibhealth.cli._life import full_scale_of, write_life
from vibhealth.cli._output import talk
from vibhealth.errors import InputError

__all__ = ["settings_of", "simulate"]

ElementName = Literal["outer-ring", "inner-ring", "rolling-element", "cage"]
FormName = Literal["wav-float", "wav-24", "wav-16", "flac", "csv"]
LoadName = Literal["empty", "loaded"]
FORM_OF_SUFFIX: dict[str, FormName] = {".wav": "wav-float", ".flac": "flac", ".csv": "csv"}
SECONDS, SECONDS_OF_A_LIFE = 60.0, 30.0
IMPACT_M_S2 = 2.0
REST_S = 3.0  # standstill before a start
SWING_OUT_S = 5.0  # and after a stop, in which the body swings out


def simulate(
    output: Annotated[
        Path,
        typer.Argument(
            metavar="OUTPUT",
            help="File to write: .wav, .flac or .csv; with --until-failure a folder.",
        ),
    ],
    *,
    card: option.CardOption,
    element: Annotated[ElementName | None, typer.Option(help="Part that has a defect.")] = None,
    clean: Annotated[bool, typer.Option("--clean", help="A bearing without a defect.")] = False,
    fault: Annotated[
        str | None, typer.Option(help="A mistake of the rebuild by name, drawn by the seed.")
    ] = None,
    start: Annotated[
        float, typer.Option(help="Seconds to speed; the recording begins at standstill.")
    ] = 0.0,
    stop: Annotated[
        float, typer.Option(help="Seconds to standstill, with which the recording ends.")
    ] = 0.0,
    bearing: Annotated[str | None, typer.Option(help="Its name; the card's first.")] = None,
    impact_m_s2: Annotated[
        float | None, typer.Option(help="Peak of the strikes at the sensor; 2, at failure 20.")
    ] = None,
    until_failure: Annotated[
        int | None, typer.Option(help="So many recordings of one life, the last at failure.")
    ] = None,
    interval_days: Annotated[
        float | None, typer.Option(help="Days between the recordings of a life; 7.")
    ] = None,
    seconds: Annotated[
        float | None,
        typer.Option(help="Length of the recording, or of its steady part; 60, in a life 30."),
    ] = None,
    rate: Annotated[float, typer.Option(help="Sampling rate in Hz.")] = 25_600.0,
    seed: Annotated[int, typer.Option(help="Same seed, same samples.")] = 1,
    speed_rpm: Annotated[
        float | None, typer.Option(help="Mean speed; 0.5 % below the card's.")
    ] = None,
    cage_slip_percent: Annotated[float, typer.Option(help="Mean slip of the cage.")] = 0.6,
    oil_noise_g_rms: Annotated[float, typer.Option(help="Rolling and oil noise.")] = 0.02,
    looseness: Annotated[float, typer.Option(help="0 all bolts hold, to 1.")] = 0.0,
    starvation: Annotated[float, typer.Option(help="0 well oiled, to 1 dry.")] = 0.0,
    rattle_m_s2: Annotated[float, typer.Option(help="Guard that hits once per turn.")] = 0.0,
    material_strikes_per_second: Annotated[float, typer.Option(help="Falling material.")] = 0.0,
    clip_g: Annotated[float | None, typer.Option(help="Where the converter clips.")] = None,
    dropped_samples: Annotated[int, typer.Option(help="Samples lost in one gap.")] = 0,
    mains_hz: Annotated[float | None, typer.Option(help="Mains pick-up at this Hz.")] = None,
    inverter_hz: Annotated[
        float | None, typer.Option(help="Switching frequency of an inverter.")
    ] = None,
    inverter_g: Annotated[float, typer.Option(help="Amplitude of its line.")] = 0.05,
    inverter_supply_hz: Annotated[float, typer.Option(help="What it gives the motor.")] = 50.0,
    gear_teeth: Annotated[int, typer.Option(help="Gear on the shaft; 0 for none.")] = 0,
    gear_g: Annotated[float, typer.Option(help="Amplitude of its mesh.")] = 0.05,
    coupling_modulation: Annotated[float, typer.Option(help="Bent coupling, 0 to 0.5.")] = 0.0,
    form: Annotated[FormName | None, typer.Option(help="Without it the suffix decides.")] = None,
    full_scale_g: Annotated[
        float | None, typer.Option(help="Full scale of the integer forms; 50 g.")
    ] = None,
    start_time: Annotated[
        datetime | None, typer.Option(help="For the sidecar; UTC.", formats=["%Y-%m-%dT%H:%M:%S"])
    ] = None,
    temperature_c: Annotated[float | None, typer.Option(help="For the sidecar.")] = None,
    load: Annotated[LoadName | None, typer.Option(help="For the sidecar.")] = None,
    overwrite: option.OverwriteOption = False,
) -> None:
    """Write a recording of an INVENTED machine with a chosen fault, for training and tests."""
    from vibhealth.card import read_card

    _refuse_in_a_life(
        until_failure is not None,
        {
            "--clean": clean,
            "--fault": fault is not None,
            "--start": start != 0,
            "--stop": stop != 0,
        },
    )
    if interval_days is not None and until_failure is None:
        msg = "--interval-days needs --until-failure with the number of recordings"
        raise InputError(msg)
    if clean is (element is not None or fault is not None):
        msg = (
            "give either --element with the part that has a defect, --fault with a mistake, "
            "or --clean"
        )
        raise InputError(msg)
    if seconds is None:
        seconds = SECONDS if until_failure is None else SECONDS_OF_A_LIFE
    settings = settings_of(
        duration_s=seconds,
        sampling_rate_hz=rate,
        seed=seed,
        speed_rpm=speed_rpm,
        cage_slip_percent=cage_slip_percent,
        oil_noise_g_rms=oil_noise_g_rms,
        looseness=looseness,
        starvation=starvation,
        rattle_m_s2=rattle_m_s2,
        material_strikes_per_second=material_strikes_per_second,
        clip_g=clip_g,
        dropped_samples=dropped_samples,
        mains_hz=mains_hz,
        inverter_hz=inverter_hz,
        inverter_g=inverter_g,
        inverter_supply_hz=inverter_supply_hz,
        gear_teeth=gear_teeth,
        gear_g=gear_g,
        coupling_modulation=coupling_modulation,
    )
    the_card, facts = read_card(card), _facts(start_time, temperature_c, load)
    if until_failure is not None and element is not None:
        write_life(
            output,
            the_card,
            element=element,
            bearing=bearing,
            settings=settings,
            n_recordings=until_failure,
            interval_days=interval_days,
            last_impact_m_s2=impact_m_s2,
            form=form or "wav-float",
            full_scale_g=full_scale_g,
            facts=facts,
            overwrite=overwrite,
        )
        return
    _write_one(
        output,
        the_card,
        element=element,
        bearing=bearing,
        impact_m_s2=IMPACT_M_S2 if impact_m_s2 is None else impact_m_s2,
        fault=fault,
        settings=settings,
        course=_course(seconds, start, stop),
        form=form or FORM_OF_SUFFIX.get(output.suffix.lower(), "wav-float"),
        full_scale_g=full_scale_g,
        facts=facts,
        overwrite=overwrite,
    )


def _refuse_in_a_life(is_life: bool, given: dict[str, bool]) -> None:
    """Refuse options that say what a whole life already says."""
    wrong = [name for name, is_given in given.items() if is_given]
    if is_life and wrong:
        msg = (
            f"{wrong[0]} cannot be given with --until-failure, which records one bearing from "
            "sound to failed at speed: leave it out"
        )
        raise InputError(msg)


def _write_one(
    output: Path,
    card: Any,
    *,
    element: ElementName | None,
    bearing: str | None,
    impact_m_s2: float,
    fault: str | None,
    settings: Any,
    course: Any,
    form: FormName,
    full_scale_g: float | None,
    facts: dict[str, Any],
    overwrite: bool,
) -> None:
    from vibhealth.model import Element
    from vibhealth.simulate import Defect, draw_fault, simulate_plan, write_simulated

    defects = [
        Defect(element=Element(name), bearing=bearing, impact_m_s2=impact_m_s2)
        for name in (element,)
        if name is not None
    ]
    simulated = simulate_plan(
        card,
        plan=draw_fault(card, fault=fault, seed=settings.seed),
        settings=settings,
        course=course,
        defects=defects,
    )
    write_simulated(
        output,
        simulated,
        form=form,
        full_scale_g=full_scale_of(form, full_scale_g),
        sidecar=facts,
        overwrite=overwrite,
    )
    talk(f"{output} written, an INVENTED recording of {', '.join(simulated.points)}")


def settings_of(**values: Any) -> Any:
    """Return the settings of a simulation, with the resonances that the rate can hold."""
    from vibhealth.simulate import SimulationSettings

    nyquist_hz = values["sampling_rate_hz"] / 2
    usual = SimulationSettings().resonances
    resonances = tuple(item for item in usual if item.frequency_hz < nyquist_hz) or usual
    return SimulationSettings(resonances=resonances, **values)


def _course(seconds: float, start_s: float, stop_s: float) -> Any:
    """Course of ``seconds`` at full speed between a start and a stop; None without either."""
    from vibhealth.simulate import Course

    if start_s == 0 and stop_s == 0:
        return None
    return Course(
        rest_s=REST_S if start_s else 0.0,
        run_up_s=start_s,
        steady_s=seconds,
        coast_down_s=stop_s,
        rest_after_s=SWING_OUT_S if stop_s else 0.0,
    )


def _facts(
    start_time: datetime | None, temperature_c: float | None, load: str | None
) -> dict[str, Any]:
    from datetime import UTC

    stamp = None if start_time is None else start_time.replace(tzinfo=UTC)
    facts = {"start_time": stamp, "temperature_c": temperature_c, "load": load}
    return {key: value for key, value in facts.items() if value is not None}
