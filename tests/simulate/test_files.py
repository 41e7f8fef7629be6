"""Simulated recordings written and read back: calibration, channels, and the label."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from vibhealth.card import MachineCard
from vibhealth.errors import InputError, OutputError
from vibhealth.model import Element
from vibhealth.recording import ChannelRequest, read_recording, read_sidecar
from vibhealth.simulate import (
    Defect,
    SimulatedRecording,
    SimulationSettings,
    simulate,
    write_simulated,
)
from vibhealth.units import STANDARD_GRAVITY_M_S2

FULL_SCALE_G = 50.0
FULL_SCALE_M_S2 = FULL_SCALE_G * STANDARD_GRAVITY_M_S2


@pytest.fixture
def simulated(make_card: Callable[..., MachineCard]) -> SimulatedRecording:
    return simulate(
        make_card(),
        defects=[Defect(element=Element.OUTER_RING, impact_m_s2=2.0)],
        settings=SimulationSettings(duration_s=0.5),
    )


@pytest.mark.parametrize(
    ("name", "options", "resolution_m_s2"),
    [
        # Largest sample is below 64 m/s^2: half a step of a 24-bit mantissa there.
        ("P1.wav", {"form": "wav-float"}, 2.0**-19),
        # Half a step of the integer, in units of full scale.
        ("P1.wav", {"form": "wav-24", "full_scale_g": FULL_SCALE_G}, FULL_SCALE_M_S2 * 2.0**-23),
        ("P1.wav", {"form": "wav-16", "full_scale_g": FULL_SCALE_G}, FULL_SCALE_M_S2 * 2.0**-15),
        ("P1.flac", {"form": "flac", "full_scale_g": FULL_SCALE_G}, FULL_SCALE_M_S2 * 2.0**-23),
        ("P1.csv", {"form": "csv"}, 1e-12),
    ],
)
def test_every_form_reads_back_in_m_s2_point_by_point(
    tmp_path: Path,
    simulated: SimulatedRecording,
    name: str,
    options: dict[str, Any],
    resolution_m_s2: float,
) -> None:
    path = write_simulated(tmp_path / name, simulated, **options)
    requests = [ChannelRequest(channel=1), ChannelRequest(channel=2)]
    recordings = read_recording(path, requests=requests)
    assert [recording.point for recording in recordings] == ["P1X", "P1Y"]
    for recording, expected in zip(recordings, simulated.samples, strict=True):
        assert recording.unit == "m/s2"
        assert recording.sampling_rate_hz == 25_600.0
        np.testing.assert_allclose(recording.samples, expected, rtol=0, atol=resolution_m_s2)


def test_the_sidecar_says_that_it_is_invented_and_takes_further_keys(
    tmp_path: Path, simulated: SimulatedRecording
) -> None:
    path = write_simulated(tmp_path / "P1.wav", simulated, sidecar={"temperature_c": 41.0})
    sidecar = read_sidecar(path)
    assert sidecar is not None
    assert sidecar.common["temperature_c"] == 41.0
    assert sidecar.common["remarks"] == (
        "INVENTED by simulation, seed 1: outer ring of bearing upper (2 m/s2)"
    )


def test_a_clipped_sample_becomes_the_converters_largest_value(
    tmp_path: Path, make_card: Callable[..., MachineCard]
) -> None:
    settings = SimulationSettings(duration_s=0.5, clip_g=3.0)
    clipped = simulate(make_card(), settings=settings)
    path = write_simulated(tmp_path / "P1.wav", clipped, form="wav-24", full_scale_g=3.0)
    (recording, *_) = read_recording(path, requests=[ChannelRequest(channel=1)])
    # The codes are not symmetric: one step less on the positive side.
    step = 3.0 * STANDARD_GRAVITY_M_S2 * 2.0**-23
    assert np.count_nonzero(recording.samples >= 3.0 * STANDARD_GRAVITY_M_S2 - 1.5 * step) > 10
    assert np.count_nonzero(recording.samples <= -3.0 * STANDARD_GRAVITY_M_S2 + 0.5 * step) > 10


@pytest.mark.parametrize(
    ("name", "options", "message"),
    [
        ("P1.wav", {"form": "mp3"}, "form must be one of wav-float, wav-24, wav-16, flac, csv"),
        ("P1.wav", {"form": "csv"}, "form csv needs a name that ends in .csv"),
        ("P1.flac", {"form": "flac"}, "form flac needs full_scale_g, got None"),
        ("P1.wav", {"full_scale_g": 50.0}, "form wav-float has no full_scale_g, got 50.0"),
        ("P1.wav", {"form": "wav-24", "full_scale_g": 2.0}, "g, beyond full_scale_g = 2: raise it"),
        ("P1.wav", {"form": "wav-24", "full_scale_g": 0.0}, "full_scale_g must be a finite"),
    ],
)
def test_forms_that_do_not_fit_are_refused(
    tmp_path: Path,
    simulated: SimulatedRecording,
    name: str,
    options: dict[str, Any],
    message: str,
) -> None:
    with pytest.raises(InputError, match=re.escape(message)):
        write_simulated(tmp_path / name, simulated, **options)
    assert list(tmp_path.iterdir()) == []


def test_an_existing_file_is_kept(tmp_path: Path, simulated: SimulatedRecording) -> None:
    path = write_simulated(tmp_path / "P1.wav", simulated)
    with pytest.raises(OutputError, match="exists already"):
        write_simulated(path, simulated)
    write_simulated(path, simulated, overwrite=True)
