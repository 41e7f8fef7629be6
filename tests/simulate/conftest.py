"""An invented machine whose bearing orders can be told apart, and a plain envelope spectrum."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import fft

from vibhealth.card import MachineCard

QUIET: dict[str, Any] = {
    "oil_noise_g_rms": 0.0,
    "sensor_noise_g_rms": 0.0,
    "passage_m_s2": 0.0,
    "harmonic_ratios": (),
    "speed_wander_percent": 0.0,
    "slip_walk_percent": 0.0,
    "slip_jitter_percent": 0.0,
    "strike_scatter": 0.0,
}

CardMaker = Callable[..., MachineCard]


@pytest.fixture
def make_card() -> CardMaker:
    """A 13-element bearing (gamma 0.18): cage 0.41, outer 5.33, inner 7.67, spin 2.688."""

    def make(
        load_case: str = "rotating",
        rotating_ring: str = "inner",
        orbit_direction: str = "counter-clockwise",
        **tables: Any,
    ) -> MachineCard:
        bearing = {
            "name": "upper",
            "element_count": 13,
            "element_diameter_mm": 18.0,
            "pitch_diameter_mm": 100.0,
            "rotating_ring": rotating_ring,
            "load_case": load_case,
        }
        return MachineCard.model_validate(
            {
                "schema_version": 1,
                "machine": {"id": "F3", "nominal_speed_rpm": 1200.0},
                "exciter": {
                    "stroke_mm": {"x": 5.0, "y": 4.0},
                    "orbit_direction": orbit_direction,
                },
                "bearing": [bearing],
                "sensor": [{"name": "A1", "unit": "m/s2"}],
                "point": [
                    {"name": "P1X", "direction": "x", "sensor": "A1", "channel": 1},
                    {"name": "P1Y", "direction": "y", "sensor": "A1", "channel": 2},
                ],
                **tables,
            }
        )

    return make


@pytest.fixture
def quiet() -> dict[str, Any]:
    """Settings that leave nothing but 1x and the strikes."""
    return dict(QUIET)


@pytest.fixture
def envelope_depth() -> Callable[..., NDArray[np.float64]]:
    """Squared envelope of a band over its mean: depth per line, spacing 1 / duration."""

    def depth(
        acceleration: NDArray[np.float64],
        sampling_rate_hz: float,
        band_hz: tuple[float, float] = (1500.0, 10_000.0),
    ) -> NDArray[np.float64]:
        n_samples = acceleration.size
        frequency_hz = fft.rfftfreq(n_samples, 1 / sampling_rate_hz)
        is_inside = (frequency_hz >= band_hz[0]) & (frequency_hz <= band_hz[1])
        lines = np.zeros(n_samples, dtype=np.complex128)
        lines[: frequency_hz.size][is_inside] = 2 * fft.rfft(acceleration)[is_inside]
        squared = np.abs(fft.ifft(lines)) ** 2
        return np.asarray(2 * np.abs(fft.rfft(squared)) / np.sum(squared), dtype=np.float64)

    return depth
