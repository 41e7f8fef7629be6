"""The reference signatures: whole, labelled, made again to the byte, and telling what they say."""

import hashlib
import importlib.util
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from vibhealth.baseline import list_stored, read_baseline

FOLDER = Path(__file__).parents[2] / "reference_spectra"
SIGNATURES = sorted(path.name for path in (FOLDER / "signatures").iterdir())
LARGEST_BYTES = 150_000
LINE_SPACING = 0.02


@pytest.fixture(scope="module")
def script() -> Iterator[ModuleType]:
    name = "make_reference_spectra"
    spec = importlib.util.spec_from_file_location(name, FOLDER / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module  # its dataclasses look themselves up there
    spec.loader.exec_module(module)
    yield module
    del sys.modules[name]


def facts(name: str) -> dict[str, Any]:
    return tomllib.loads((FOLDER / "signatures" / name / "facts.toml").read_text("utf-8"))


def depth(name: str) -> NDArray[np.float64]:
    """Order and depth in x."""
    path = FOLDER / "signatures" / name / "envelope_spectrum.csv"
    return np.loadtxt(path, delimiter=",", skiprows=1)[:, :2]


def line(name: str, order: float) -> float:
    """Largest depth within two lines of an order: slip makes lines that wide."""
    spectrum = depth(name)
    return float(np.max(spectrum[np.abs(spectrum[:, 0] - order) <= 2.5 * LINE_SPACING, 1]))


def test_the_digests_are_those_of_the_files() -> None:
    rows = (FOLDER / "SHA256SUMS").read_text("utf-8").splitlines()
    listed = {name: digest for digest, name in (row.split("  ") for row in rows)}
    files = {
        path.relative_to(FOLDER).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in (FOLDER / "signatures").rglob("*")
        if path.suffix in (".csv", ".toml")
    }
    assert listed == files


def test_the_baselines_are_whole_and_say_that_they_are_invented() -> None:
    stored = list_stored(FOLDER)
    points = [(item.path.parts[-3], item.path.parts[-2]) for item in stored]
    assert points == [("F3", "P1X"), ("F3", "P1Y")]
    for item in stored:
        baseline = read_baseline(item.path)
        assert baseline.label.startswith("INVENTED")
        assert baseline.n_recordings == 3
        assert not baseline.flags


def test_every_file_of_a_signature_has_its_row_in_the_readme_and_is_small() -> None:
    readme = (FOLDER / "README.md").read_text("utf-8")
    for path in (FOLDER / "signatures").rglob("*.*"):
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
        assert f"| `{path.relative_to(FOLDER).as_posix()}` | INVENTED |" in readme
        assert digest in readme
        assert path.stat().st_size <= LARGEST_BYTES


@pytest.mark.parametrize("name", SIGNATURES)
def test_every_signature_is_whole_and_says_that_it_is_invented(name: str) -> None:
    content = facts(name)
    assert content["label"].startswith("INVENTED")
    assert content["name"] == name
    files = {path.name for path in (FOLDER / "signatures" / name).iterdir()}
    assert files == {"order_spectrum.csv", "envelope_spectrum.csv", "facts.toml"}
    orders = depth(name)[:, 0]
    np.testing.assert_allclose(np.diff(orders), LINE_SPACING, rtol=0, atol=1e-9)


def test_the_script_lists_the_signatures_of_the_folder(script: ModuleType) -> None:
    assert sorted(signature.name for signature in script.ALL) == SIGNATURES


def test_making_a_signature_again_gives_the_same_bytes(script: ModuleType) -> None:
    signature = next(item for item in script.ALL if item.name == "outer-ring")
    made = script.signature_files(signature)
    for name, content in made.items():
        assert content == (FOLDER / "signatures" / "outer-ring" / name).read_bytes()


@pytest.mark.parametrize(
    ("name", "element"),
    [
        ("outer-ring", "outer_ring"),
        ("inner-ring", "inner_ring"),
        ("brinelled", "outer_ring"),
        ("stationary-load-outer-ring", "outer_ring"),
        ("stationary-load-inner-ring", "inner_ring"),
    ],
)
def test_a_ring_defect_stands_at_its_true_order_and_not_in_the_healthy(
    name: str, element: str
) -> None:
    order = facts(name)["orders"][element]
    assert line(name, order) > 0.4
    assert line("healthy", order) < 0.05


def test_side_bands_tell_the_load_case() -> None:
    def side_band(name: str, element: str, spacing: float, harmonic: int = 1) -> float:
        centre = harmonic * facts(name)["orders"][element]
        both = line(name, centre - spacing) + line(name, centre + spacing)
        return both / 2 / line(name, centre)

    assert side_band("outer-ring", "outer_ring", 1.0) > 0.6
    assert 0.1 < side_band("inner-ring", "inner_ring", 1.0) < 0.5
    assert side_band("brinelled", "outer_ring", 1.0) < 0.4
    assert side_band("stationary-load-outer-ring", "outer_ring", 1.0) < 0.1
    assert side_band("stationary-load-inner-ring", "inner_ring", 1.0) > 0.6
    cage = facts("rolling-element")["orders"]["cage"]
    assert side_band("rolling-element", "rolling_element_spin", 1 - cage, harmonic=2) > 0.6
    assert side_band("stationary-load-rolling-element", "rolling_element_spin", cage, 2) > 0.6


def test_what_is_not_the_bearing_shows_as_its_facts_say() -> None:
    cage = facts("cage")["orders"]["cage"]
    assert min(line("cage", cage), line("cage", 1 - cage)) > 3 * line("healthy", cage)
    assert min(line("loose-guard", float(k)) for k in range(1, 11)) > 0.5
    assert line("healthy", 5.0) < 0.05
    wet, dry = (facts(name)["spectra"]["band_rms_x_m_s2"] for name in ("healthy", "starved"))
    assert dry > 3 * wet
    acceleration = np.loadtxt(
        FOLDER / "signatures" / "loose-bolts" / "order_spectrum.csv", delimiter=",", skiprows=1
    )
    at = {order: acceleration[round((order - 0.1) / LINE_SPACING), 1] for order in (0.5, 1.0, 1.5)}
    assert at[0.5] / at[1.0] == pytest.approx(0.07, rel=0.05)
    assert at[1.5] > 0.5 * at[0.5]
