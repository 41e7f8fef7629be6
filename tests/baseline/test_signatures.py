"""Reference signatures: folders as they ship, and folders that hold something else."""

import shutil
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from vibhealth.baseline import list_signatures, read_signature
from vibhealth.errors import BaselineError

FACTS = """\
schema_version = 1
label = "INVENTED"
name = "cage"
meaning = "One bad pocket."
look_for = "1x - FTF."

[machine]
id = "F3"
shaft_frequency_hz = 16.0

[simulation]
duration_s = 100.0
sampling_rate_hz = 25600.0

[spectra]
bearing_band_hz = [1000.0, 10000.0]
segment_turns = 50.0
"""
# 100 s of 16 turns in segments of 50 that overlap by half: 63, each worth 1 / (1 + 2 / 36).
N_AVERAGES = 63 / (1 + 2 / 36)
SHIPPED = Path(__file__).parents[2] / "reference_spectra"

Folder = Callable[[str], Path]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Signatures with one of them, whose columns follow the gamma law about 2 and 3."""
    place = tmp_path / "signatures" / "cage"
    place.mkdir(parents=True)
    (place / "facts.toml").write_text(FACTS, "utf-8")
    rng = np.random.default_rng(2)
    for name, column in (("order", "amplitude_{}_m_s2"), ("envelope", "depth_{}")):
        order = 0.1 + 0.02 * np.arange(1000)
        x, y = (size * np.sqrt(rng.gamma(59.7, 1 / 59.7, order.size)) for size in (2.0, 3.0))
        x[307] = 200.0
        rows = [f"order,{column.format('x')},{column.format('y')}"]
        rows += [
            f"{o:.2f},{a!r},{b!r}"
            for o, a, b in zip(order, map(float, x), map(float, y), strict=True)
        ]
        (place / f"{name}_spectrum.csv").write_text("\n".join(rows) + "\n", "utf-8")
    return place


@pytest.mark.parametrize(("direction", "size"), [("x", 2.0), ("y", 3.0), ("z", 2.0), ("", 2.0)])
def test_spectra_along_a_direction(folder: Path, direction: str, size: float) -> None:
    """The floor of noise is its rms: a root of the mean square, read as a median."""
    signature = read_signature(folder, direction=direction)
    assert (signature.name, signature.meaning) == ("cage", "One bad pocket.")
    assert signature.look_for == "1x - FTF."
    spectra = signature.spectra
    assert [item.kind for item in spectra.spectra] == ["order-spectrum", "envelope-spectrum"]
    assert [item.unit for item in spectra.spectra] == ["m/s2", "1"]
    assert [item.band_hz for item in spectra.spectra] == [None, (1000.0, 10000.0)]
    for item in spectra.spectra:
        assert item.n_averages == pytest.approx(N_AVERAGES, rel=1e-12)
        assert item.n_recordings == 1
        assert item.spread_db is None
        # A median of 51 lines that scatter by 1 / root 60 in power: 2.3 %; a mean of 1000 less.
        assert np.mean(item.floor**2) == pytest.approx(size**2, rel=0.02)
    assert spectra.conditions.shaft_frequency_hz.middle == 16.0
    assert spectra.conditions.direction == ("y" if direction == "y" else "x")
    assert spectra.label == "INVENTED"


def test_a_line_stands_out_of_the_floor_by_its_size(folder: Path) -> None:
    (item, _) = read_signature(folder).spectra.spectra
    # 200 over 2; the floor of 51 lines scatters by 0.1 dB.
    assert item.above_floor_db[307] == pytest.approx(40.0, abs=0.5)
    assert item.order[307] == pytest.approx(6.24)
    assert item.amplitude[307] == 200.0


def test_signatures_are_listed_by_name(folder: Path) -> None:
    store = folder.parents[1]
    shutil.copytree(folder, folder.parent / "brinelled")
    (folder.parent / "empty").mkdir()
    (folder.parent / "README.md").write_text("about", "utf-8")
    assert [path.name for path in list_signatures(store)] == ["brinelled", "cage"]
    assert list_signatures(store / "nowhere") == ()


@pytest.mark.parametrize(
    ("name", "was", "instead", "says"),
    [
        ("facts.toml", 'look_for = "1x - FTF."', "", "KeyError: 'look_for'"),
        ("facts.toml", "[machine]", "[machine", "TOMLDecodeError"),
        ("facts.toml", "duration_s = 100.0", 'duration_s = "long"', "ValueError"),
        ("order_spectrum.csv", "amplitude_x_m_s2", "x", "KeyError: 'amplitude_x_m_s2'"),
        ("envelope_spectrum.csv", "0.10,", "a,", "could not convert string to float: 'a'"),
    ],
)
def test_what_is_no_signature_is_refused(
    folder: Path, name: str, was: str, instead: str, says: str
) -> None:
    text = (folder / name).read_text("utf-8")
    assert was in text
    (folder / name).write_text(text.replace(was, instead, 1), "utf-8")
    with pytest.raises(BaselineError, match="no reference signature can be read") as caught:
        read_signature(folder)
    assert str(caught.value).startswith(str(folder))
    assert says in str(caught.value)


@pytest.mark.parametrize("name", ["facts.toml", "order_spectrum.csv", "envelope_spectrum.csv"])
def test_a_lost_file_is_told(folder: Path, name: str) -> None:
    (folder / name).unlink()
    with pytest.raises(BaselineError, match="FileNotFoundError") as caught:
        read_signature(folder)
    assert name in str(caught.value)


@pytest.mark.parametrize("path", list_signatures(SHIPPED), ids=lambda path: path.name)
def test_those_that_ship_can_be_read(path: Path) -> None:
    """Each says what it is; on a grid that baselines share, with a floor below every line."""
    signature = read_signature(path)
    assert signature.name == path.name
    assert signature.meaning
    assert signature.look_for
    assert signature.spectra.label.startswith("INVENTED")
    for item in signature.spectra.spectra:
        np.testing.assert_allclose(np.diff(item.order), 0.02, atol=1e-9)
        assert item.order[0] == 0.1
        assert np.isfinite(item.above_floor_db).all()


def test_the_shipped_ones_are_found() -> None:
    names = {path.name for path in list_signatures(SHIPPED)}
    assert {"healthy", "outer-ring", "inner-ring", "rolling-element", "cage"} <= names
