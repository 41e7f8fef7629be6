"""Make the reference signatures: spectra of an invented machine with one chosen fault each.

Run from anywhere: ``python reference_spectra/make_reference_spectra.py``. Writes
``signatures/<name>/``, the table of files in ``README.md`` and ``SHA256SUMS``, and, where there is
none yet, the known-good baselines of the invented machine of ``examples/`` below ``F3/``. The same
version of the package gives the same signatures, byte by byte.
"""

import hashlib
import json
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, fields
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from vibhealth.acceptance import analyze_all, orbits_of
from vibhealth.baseline import build_baseline, list_stored, store_baseline
from vibhealth.card import MachineCard, read_card
from vibhealth.model import Calibration, Element, Recording
from vibhealth.signal import amplitude_spectrum, resample_to_angle
from vibhealth.simulate import (
    Defect,
    MachineFault,
    Resonance,
    SimulatedRecording,
    SimulationSettings,
    simulate,
)

FOLDER = Path(__file__).parent
SIGNATURES = FOLDER / "signatures"
TABLE_BEGIN, TABLE_END = "<!-- table of files: begin -->", "<!-- table of files: end -->"

DURATION_S = 60.0
BAND_HZ = (1000.0, 10_000.0)
SAMPLES_PER_TURN = 128  # kept to 0.4 of it: 51 orders
SEGMENT_TURNS = 50.0  # line spacing 0.02 orders
HIGHEST_ORDER = {"order_spectrum": 40.0, "envelope_spectrum": 30.0}
LOWEST_ORDER = 0.1  # below it the window spreads the mean value
IMPACT_M_S2 = 2.0
N_BASELINE = 3
BASELINE_DAY = datetime(2030, 11, 12, 9, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Signature:
    """One reference: what is wrong, in words, and how it is simulated."""

    name: str
    meaning: str
    look_for: str
    defects: tuple[Defect, ...] = ()
    load_case: str = "rotating"
    changes: dict[str, Any] = field(default_factory=dict)


def _defect(element: Element, *, all_round: bool = False) -> tuple[Defect, ...]:
    return (Defect(element=element, impact_m_s2=IMPACT_M_S2, marks_at_every_element=all_round),)


ALL = (
    Signature(
        "healthy",
        "Nothing wrong.",
        "1x in the envelope, since the load zone sweeps past the sensor; BPFI +/- 1x low in the "
        "acceleration spectrum as elements pass below the load.",
    ),
    Signature(
        "outer-ring",
        "One spall on the outer ring.",
        "n BPFO with strong side bands at 1x: the ring stands still, the load turns.",
        _defect(Element.OUTER_RING),
    ),
    Signature(
        "inner-ring",
        "One spall on the inner ring, on the arc that carries the load.",
        "n BPFI; weaker side bands at 1x, from the changing path alone.",
        _defect(Element.INNER_RING),
    ),
    Signature(
        "rolling-element",
        "One spall on a rolling element.",
        "2 BSF with side bands at 1x - FTF. On this machine 2 BSF lies on 6x: a blind spot for "
        "the centre line, the side bands stand free.",
        _defect(Element.ROLLING_ELEMENT),
    ),
    Signature(
        "cage",
        "One bad pocket of the cage.",
        "1x - FTF (the pocket meets the load) and FTF (the cage meets its land).",
        _defect(Element.CAGE),
    ),
    Signature(
        "brinelled",
        "Marks on the outer ring at the spacing of the elements: dropped, hammered in, or "
        "shaken while standing.",
        "n BPFO; the load's side bands vanish, since a mark is always under load, and what is "
        "left at 1x comes from the path.",
        _defect(Element.OUTER_RING, all_round=True),
    ),
    Signature(
        "loose-bolts",
        "Bolts of the exciter flange loose: the joint opens and knocks once per turn.",
        "High harmonics, half orders 0.5x, 1.5x, 2.5x, and a comb of 1x in the envelope.",
        changes={"looseness": 0.7, "rattle_m_s2": 2.0},
    ),
    Signature(
        "loose-guard",
        "A guard that hits once per turn.",
        "A strong comb of 1x in the envelope that masks the bearing: not judged, never good.",
        changes={"rattle_m_s2": 8.0},
    ),
    Signature(
        "starved",
        "Too little oil.",
        "Band level far up, no line but 1x: the depth of the envelope alone shows nothing.",
        changes={"starvation": 0.8},
    ),
    Signature(
        "falling-material",
        "Recorded while material fell on the deck; the bearing is healthy.",
        "A raised floor without lines: record again, empty.",
        changes={"material_strikes_per_second": 5.0},
    ),
    Signature(
        "stationary-load-outer-ring",
        "One spall on the outer ring of a bearing whose load stands still (a counter-balanced "
        "frame bearing).",
        "n BPFO without side bands.",
        _defect(Element.OUTER_RING),
        "stationary",
    ),
    Signature(
        "stationary-load-inner-ring",
        "One spall on the inner ring of a bearing whose load stands still.",
        "n BPFI with strong side bands at 1x.",
        _defect(Element.INNER_RING),
        "stationary",
    ),
    Signature(
        "stationary-load-rolling-element",
        "One spall on a rolling element of a bearing whose load stands still.",
        "2 BSF with side bands at FTF.",
        _defect(Element.ROLLING_ELEMENT),
        "stationary",
    ),
    Signature(
        "stationary-load-cage",
        "One bad pocket of the cage of a bearing whose load stands still.",
        "FTF and its multiples.",
        _defect(Element.CAGE),
        "stationary",
    ),
    Signature(
        "guard-rubs",
        "A guard that rubs for a part of every turn.",
        "A comb of 1x in the envelope from broadband scraping, and a floor far up; little in the "
        "acceleration spectrum but a raised floor.",
        changes={"fault": MachineFault(rub_m_s2_rms=2.0, rub_share_of_turn=0.2)},
    ),
)


def card(load_case: str) -> MachineCard:
    """Build the card of the invented deck feeder F3, its bearing under the given load."""
    return MachineCard.model_validate(
        {
            "schema_version": 1,
            "machine": {"id": "F3", "name": "Deck feeder F3", "nominal_speed_rpm": 978.0},
            "exciter": {
                "stroke_mm": {"x": 6.0, "y": 6.0},
                "orbit_direction": "counter-clockwise",
            },
            "bearing": [
                {
                    "name": "upper",
                    "element_count": 17,
                    "element_diameter_mm": 26.0,
                    "pitch_diameter_mm": 160.0,
                    "rotating_ring": "inner",
                    "load_case": load_case,
                }
            ],
            "sensor": [{"name": "A1", "unit": "m/s2"}],
            "point": [
                {"name": "P1X", "direction": "x", "sensor": "A1", "channel": 1},
                {"name": "P1Y", "direction": "y", "sensor": "A1", "channel": 2},
            ],
        }
    )


def simulated_signature(signature: Signature, duration_s: float) -> SimulatedRecording:
    """Simulate the recording behind a signature; the seed is its place in the list."""
    settings = SimulationSettings(
        duration_s=duration_s, seed=1 + ALL.index(signature), **signature.changes
    )
    return simulate(card(signature.load_case), defects=signature.defects, settings=settings)


def squared_envelope(acceleration: NDArray[np.float64], rate_hz: float) -> NDArray[np.float64]:
    """Squared envelope of the bearing band (analytic signal, sharp edges)."""
    frequency_hz = fft.rfftfreq(acceleration.size, 1 / rate_hz)
    is_inside = (frequency_hz >= BAND_HZ[0]) & (frequency_hz <= BAND_HZ[1])
    lines = np.zeros(acceleration.size, dtype=np.complex128)
    lines[: frequency_hz.size][is_inside] = 2 * fft.rfft(acceleration)[is_inside]
    return np.asarray(np.abs(fft.ifft(lines)) ** 2, dtype=np.float64)


def order_lines(
    samples: NDArray[np.float64], simulated: SimulatedRecording
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Orders and averaged amplitudes of one channel, sampled at equal shaft angles."""
    record = resample_to_angle(
        samples,
        simulated.sampling_rate_hz,
        shaft_phase_turns=simulated.truth.shaft_turns,
        samples_per_turn=SAMPLES_PER_TURN,
    )
    # With turns in place of seconds, hertz become orders.
    spectrum = amplitude_spectrum(
        record.samples, SAMPLES_PER_TURN, window="hann", segment_seconds=SEGMENT_TURNS
    )
    return spectrum.frequency_hz, spectrum.values


def table(kind: str, heads: Iterable[str], columns: list[NDArray[np.float64]]) -> bytes:
    """CSV from the lowest to the highest order of this kind: orders to 0.01, values to four digits."""
    rows = [",".join(["order", *heads])]
    for order, *values in zip(*columns, strict=True):
        if LOWEST_ORDER <= order <= HIGHEST_ORDER[kind]:
            rows.append(",".join([f"{order:.2f}", *(f"{value:.4g}" for value in values)]))
    return ("\n".join(rows) + "\n").encode()


def signature_files(signature: Signature, duration_s: float = DURATION_S) -> dict[str, bytes]:
    """Content of the files of one signature, by file name."""
    simulated = simulated_signature(signature, duration_s)
    lines, depths, levels = [], [], []
    for row in simulated.samples:
        order, amplitude = order_lines(row, simulated)
        lines.append(amplitude)
        squared = squared_envelope(row, simulated.sampling_rate_hz)
        levels.append(float(np.sqrt(np.mean(squared) / 2)))
        depths.append(order_lines(squared, simulated)[1] / np.mean(squared))
    axes = simulated.directions
    return {
        "order_spectrum.csv": table(
            "order_spectrum", [f"amplitude_{axis}_m_s2" for axis in axes], [order, *lines]
        ),
        "envelope_spectrum.csv": table(
            "envelope_spectrum", [f"depth_{axis}" for axis in axes], [order, *depths]
        ),
        "facts.toml": facts(signature, simulated, levels).encode(),
    }


def facts(signature: Signature, simulated: SimulatedRecording, levels: list[float]) -> str:
    """TOML with what was simulated and how it was processed."""
    truth, settings = simulated.truth, simulated.settings
    orders = truth.bearings[0].orders
    level = {
        f"band_rms_{axis}_m_s2": float(f"{value:.4g}")
        for axis, value in zip(simulated.directions, levels, strict=True)
    }
    sections: dict[str, dict[str, Any]] = {
        "": {
            "schema_version": 1,
            "label": "INVENTED: made by simulation, not measured on any machine",
            "name": signature.name,
            "meaning": signature.meaning,
            "look_for": signature.look_for,
        },
        "machine": {
            "id": "F3",
            "load_case": signature.load_case,
            "rotating_ring": "inner",
            "element_count": 17,
            "element_diameter_mm": 26.0,
            "pitch_diameter_mm": 160.0,
            "shaft_frequency_hz": float(f"{truth.mean_shaft_frequency_hz:.6g}"),
        },
        "orders": {
            "cage": float(f"{orders.cage:.5f}"),
            "outer_ring": float(f"{orders.outer_ring:.5f}"),
            "inner_ring": float(f"{orders.inner_ring:.5f}"),
            "rolling_element_spin": float(f"{orders.rolling_element or 0:.5f}"),
            "cage_slip_percent": float(f"{truth.bearings[0].slip_percent:.3f}"),
        },
        "simulation": {
            "seed": settings.seed,
            "duration_s": settings.duration_s,
            "sampling_rate_hz": settings.sampling_rate_hz,
            "defects": [
                f"{item.defect.element.value}, {item.defect.impact_m_s2:g} m/s2 at the sensor"
                for item in truth.defects
            ],
            "changed_settings": list(changed_settings(signature)),
        },
        "spectra": {
            **level,
            "bearing_band_hz": list(BAND_HZ),
            "samples_per_turn": SAMPLES_PER_TURN,
            "segment_turns": SEGMENT_TURNS,
            "overlap": 0.5,
            "window": "hann",
            "line_spacing_orders": 1 / SEGMENT_TURNS,
        },
    }
    text = "\n".join(
        (f"[{head}]\n" if head else "")
        + "".join(f"{key} = {json.dumps(value)}\n" for key, value in section.items())
        for head, section in sections.items()
    )
    tomllib.loads(text)  # what JSON and TOML write differently would show here
    return text


def changed_settings(signature: Signature) -> Iterator[str]:
    """Settings that differ from the defaults, those of a fault one by one."""
    for key, value in signature.changes.items():
        if isinstance(value, MachineFault):
            usual = MachineFault()
            for item in fields(value):
                if getattr(value, item.name) != getattr(usual, item.name):
                    yield f"{item.name} = {getattr(value, item.name)}"
        else:
            yield f"{key} = {value}"


def make_baselines() -> None:
    """Known-good baselines of the machine of ``examples/``, where none is kept yet."""
    the_card = read_card(FOLDER.parent / "examples" / "F3.toml")
    recordings = [
        recording
        for number in range(N_BASELINE)
        for recording in baseline_recordings(the_card, number)
    ]
    analyses = analyze_all(recordings, card=the_card)
    orbits = tuple(orbits_of(analyses, the_card))
    for point in (point.name for point in the_card.points):
        if not list_stored(FOLDER, machine_id=the_card.machine.id, point=point):
            baseline = build_baseline(
                [a for a in analyses if a.recording.point == point],
                card=the_card,
                made_at=BASELINE_DAY + timedelta(hours=2),
                accepted_by="E. Engineer (invented)",
                orbits=orbits,
            )
            print(store_baseline(FOLDER, baseline).path)


def baseline_recordings(the_card: MachineCard, number: int) -> Iterator[Recording]:
    """Recording ``number`` of the good machine, as the recordings of ``examples/`` are made."""
    settings = SimulationSettings(
        duration_s=26.0,
        sampling_rate_hz=8000.0,
        seed=31 + number,
        resonances=(Resonance(frequency_hz=2800.0),),
    )
    simulated = simulate(the_card, settings=settings)
    for place, samples in enumerate(simulated.samples):
        yield Recording(
            samples=samples,
            sampling_rate_hz=settings.sampling_rate_hz,
            unit="m/s2",
            path=f"good-{number + 1}.flac",
            sha256=hashlib.sha256(simulated.samples.tobytes()).hexdigest(),
            channel=place + 1,
            n_channels=len(simulated.points),
            point=simulated.points[place],
            direction=simulated.directions[place],
            calibration=Calibration(scale_m_s2=1.0, source="simulated in m/s2"),
            start_time=BASELINE_DAY + timedelta(minutes=5 * number),
            temperature_c=51.0 + 0.5 * number,
            remarks=(("load", "empty"), ("remarks", "INVENTED: made by simulation")),
        )


def sha256(path: Path) -> str:
    """Digest of a file."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def data_files() -> list[Path]:
    """List every data file of the signatures, in a fixed order."""
    return sorted(path for path in SIGNATURES.rglob("*") if path.suffix in (".csv", ".toml"))


COLUMNS = {
    "order_spectrum.csv": (
        "`order`; `amplitude_x_m_s2`, `amplitude_y_m_s2` (zero to peak, m/s^2)",
        "angle-resampled by the true shaft angle, averaged amplitude spectrum",
    ),
    "envelope_spectrum.csv": (
        "`order`; `depth_x`, `depth_y` (amplitude over the mean squared envelope, no unit)",
        "squared envelope of 1 to 10 kHz, then as the order spectrum",
    ),
    "facts.toml": ("keys with units in their names", "written with the spectra"),
}


def readme_table() -> str:
    """One row per file of the signatures."""
    rows = ["| file | origin | columns and units | processing | SHA-256 |", "|---|---|---|---|---|"]
    for path in sorted(SIGNATURES.rglob("*.*")):
        columns, processing = COLUMNS[path.name]
        name = path.relative_to(FOLDER).as_posix()
        rows.append(f"| `{name}` | INVENTED | {columns} | {processing} | `{sha256(path)}` |")
    return "\n".join(rows)


def main() -> None:
    """Write all files, the table in the README, the digests, and missing baselines."""
    for signature in ALL:
        folder = SIGNATURES / signature.name
        folder.mkdir(parents=True, exist_ok=True)
        for name, content in signature_files(signature).items():
            (folder / name).write_bytes(content)
        print(signature.name)
    readme = FOLDER / "README.md"
    before, _, rest = readme.read_text("utf-8").partition(TABLE_BEGIN)
    after = rest.partition(TABLE_END)[2]
    readme.write_text(f"{before}{TABLE_BEGIN}\n{readme_table()}\n{TABLE_END}{after}", "utf-8")
    sums = [f"{sha256(path)}  {path.relative_to(FOLDER).as_posix()}\n" for path in data_files()]
    (FOLDER / "SHA256SUMS").write_text("".join(sums), "utf-8")
    make_baselines()


if __name__ == "__main__":
    main()
