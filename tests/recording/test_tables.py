"""Tables of text: every layout gives the same numbers, every fault its line and cell."""

import gzip
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vibhealth.model import Recording
from vibhealth.recording import ChannelRequest, ReadOptions, read_recording

SAMPLING_RATE_HZ = 2000.0
X = np.array([0.25, -1.5, 3.125, 0.0, -0.0625, 12.75])
Y = np.array([7.0, 8.5, -9.0, 1e-3, 2.0, -0.5])
T = np.arange(6) / SAMPLING_RATE_HZ
# pandas' default parser may be off in the last place of a double.
RTOL_TEXT = 4 * np.finfo(np.float64).eps
STANDARD_GRAVITY_M_S2 = 9.80665  # 3rd CGPM (1901)

Refused = Callable[..., str]
ReadOne = Callable[..., Recording]


def table(
    separator: str, decimal: str, header: str | None, *, with_time: bool = True, end: str = "\n"
) -> str:
    """Time, X and Y as text in the given layout."""
    columns = (T, X, Y) if with_time else (X, Y)
    rows = [
        separator.join(f"{value:.10g}".replace(".", decimal) for value in row)
        for row in zip(*columns, strict=True)
    ]
    return end.join(([header] if header else []) + rows) + end


LAYOUTS = [
    (",", "."),
    (";", "."),
    (";", ","),
    ("\t", "."),
    ("\t", ","),
    (" ", "."),
    (" ", ","),
    ("   ", "."),
    (", ", "."),
    ("; ", ","),
]


@pytest.mark.parametrize("with_header", [True, False])
@pytest.mark.parametrize(("separator", "decimal"), LAYOUTS)
def test_every_layout_gives_the_same_numbers(
    tmp_path: Path, separator: str, decimal: str, with_header: bool
) -> None:
    header = separator.join(("time", "x", "y")) if with_header else None
    path = tmp_path / "a.csv"
    path.write_text(table(separator, decimal, header))
    x, y = read_recording(path, requests=[ChannelRequest(), ChannelRequest(channel=2)])
    np.testing.assert_allclose(x.samples, X, rtol=RTOL_TEXT)
    np.testing.assert_allclose(y.samples, Y, rtol=RTOL_TEXT)
    assert (x.n_channels, x.sampling_rate_hz) == (2, SAMPLING_RATE_HZ)
    assert (x.unit, x.full_scale) == ("counts", None)


@pytest.mark.parametrize("name", ["a.csv.gz", "a.txt.gz", "a.gz"])
def test_gzip(tmp_path: Path, read_one: ReadOne, name: str) -> None:
    path = tmp_path / name
    path.write_bytes(gzip.compress(table(",", ".", None).encode()))
    np.testing.assert_allclose(read_one(path).samples, X, rtol=RTOL_TEXT)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_encodings(tmp_path: Path, read_one: ReadOne, encoding: str) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(table(";", ",", "Zeit [s];Ständer [m/s²];y").encode(encoding))
    recording = read_one(path)
    np.testing.assert_allclose(recording.samples, X, rtol=RTOL_TEXT)
    assert recording.calibration is not None
    assert "Ständer [m/s²]" in recording.calibration.source


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_comments_blank_lines_and_line_ends(tmp_path: Path, read_one: ReadOne, end: str) -> None:
    text = "# logger 7" + end + end + table(",", ".", "time,x,y", end=end) + end + "# end" + end
    path = tmp_path / "a.csv"
    path.write_bytes(text.encode())
    np.testing.assert_allclose(read_one(path).samples, X, rtol=RTOL_TEXT)


def test_without_a_time_column_the_rate_is_given(tmp_path: Path, read_one: ReadOne) -> None:
    path = tmp_path / "a.csv"
    path.write_text(table(",", ".", None, with_time=False))
    recording = read_one(path, options=ReadOptions(rate_hz=51200))
    np.testing.assert_allclose(recording.samples, X, rtol=RTOL_TEXT)
    assert (recording.n_channels, recording.sampling_rate_hz) == (2, 51200)


@pytest.mark.parametrize("header", ["", "acc [g]\n"])
def test_a_single_column(tmp_path: Path, read_one: ReadOne, header: str) -> None:
    path = tmp_path / "a.txt"
    path.write_text(header + "\n".join(map(str, X)))
    recording = read_one(path, options=ReadOptions(rate_hz=100))
    scale = STANDARD_GRAVITY_M_S2 if header else 1.0
    np.testing.assert_allclose(recording.samples, X * scale, rtol=RTOL_TEXT)


def test_header_names_parted_by_blanks(tmp_path: Path, read_one: ReadOne) -> None:
    path = tmp_path / "a.txt"
    path.write_text("y  time [ms] x (m/s2)\n" + "".join(f"{-v} {i} {v}\n" for i, v in enumerate(X)))
    recording = read_one(path, requests=[ChannelRequest(channel=2)])
    assert recording.samples.tolist() == X.tolist()
    assert (recording.unit, recording.sampling_rate_hz) == ("m/s2", 1000.0)


def test_header_names_with_blanks_inside_name_nothing(tmp_path: Path, read_one: ReadOne) -> None:
    path = tmp_path / "a.txt"
    path.write_text("point one up [g]\n" + "".join(f"{v} {-v}\n" for v in X))
    recording = read_one(path, options=ReadOptions(rate_hz=100))
    assert recording.samples.tolist() == X.tolist()
    assert recording.unit == "counts"


def test_a_single_column_with_decimal_commas_and_header(tmp_path: Path, read_one: ReadOne) -> None:
    path = tmp_path / "a.txt"
    path.write_text("acc\n0,25\n-1,5\n3,125\n")
    samples = read_one(path, options=ReadOptions(rate_hz=100)).samples
    assert samples.tolist() == [0.25, -1.5, 3.125]


def test_quoted_decimal_commas(tmp_path: Path, read_one: ReadOne) -> None:
    path = tmp_path / "a.csv"
    path.write_text('"time","x"\n"0,000","0,25"\n"0,001","-1,5"\n"0,002","3,125"\n')
    recording = read_one(path)
    assert recording.samples.tolist() == [0.25, -1.5, 3.125]
    assert recording.sampling_rate_hz == 1000


@pytest.mark.parametrize(
    ("header", "stamps", "rate_hz"),
    [
        ("time", ["0", "0.5", "1.0"], 2.0),
        ("Time [ms]", ["0", "0.5", "1.0"], 2000.0),
        ("t (us)", ["0", "40", "80"], 25000.0),
        ("time_ms", ["5", "7", "9"], 500.0),
        ("Timestamp (µs)", ["0", "40", "80"], 25000.0),
        ("date", [f"2024-05-01 10:00:00.{i:03d}" for i in (0, 4, 8)], 250.0),
        ("x1", [f"2024-05-01T10:00:00.{i:03d}+02:00" for i in (0, 4, 8)], 250.0),
    ],
)
def test_named_time_columns(
    tmp_path: Path, read_one: ReadOne, header: str, stamps: list[str], rate_hz: float
) -> None:
    path = tmp_path / "a.csv"
    rows = [f"{a};{t}" for a, t in zip(("5.5", "-2", "7"), stamps, strict=True)]
    path.write_text("\n".join([f"acc;{header}", *rows]))
    recording = read_one(path)
    assert recording.samples.tolist() == [5.5, -2.0, 7.0]
    assert recording.sampling_rate_hz == rate_hz
    assert any(key == "time axis" and header in value for key, value in recording.remarks)


def test_a_sample_counter_is_neither_time_nor_channel(tmp_path: Path, read_one: ReadOne) -> None:
    values = np.sin(np.arange(40.0))
    path = tmp_path / "a.csv"
    path.write_text("\n".join(f"{i},{v:.17g}" for i, v in enumerate(values, start=1)))
    recording = read_one(path, options=ReadOptions(rate_hz=1000))
    np.testing.assert_allclose(recording.samples, values, rtol=RTOL_TEXT)
    assert recording.n_channels == 1
    assert ("column left out", "column 1, time or counter") in recording.remarks


def test_the_time_column_can_be_chosen(tmp_path: Path, read_one: ReadOne, refused: Refused) -> None:
    path = tmp_path / "a.csv"
    path.write_text("time,date,x\n" + "\n".join(f"{i / 10},{i / 20},{x}" for i, x in enumerate(X)))
    refused(path, "column 1 'time' and column 2 'date' both look like time")
    for wanted, rate_hz in (("date", 20.0), (1, 10.0), ("time", 10.0)):
        recording = read_one(path, options=ReadOptions(time_column=wanted))
        assert recording.sampling_rate_hz == rate_hz
        assert recording.samples.tolist() == X.tolist()
    refused(
        path,
        "has no time column 'zeit'; its 3 columns are time, date, x",
        options=ReadOptions(time_column="zeit"),
    )


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("t,x\n0,1.5\n1,2.5x\n2,3\n", "line 3, cell 2: '2.5x' is no number"),
        ("0.0,1.5\n0.1,\n0.2,3\n", "line 2, cell 2: is empty"),
        ("0.0,1.5\n0.1\n0.2,3\n", "line 2 has 1 cells where 2 are expected"),
        ("# c\n\n0.0,1.5\n0.1,2,9\n0.2,3\n", "line 4 has 3 cells where 2 are expected"),
        ("0.0 1.5\n0.1\n0.2 3\n", "line 2 has 1 cells where 2 are expected"),
        ("a,b,c\n0.0,1.5\n0.1,2.5\n", "line 2 has 2 cells where 3 are expected"),
        ("a,b\n0.0,1.5,2\n0.1,2.5,2\n", "line 2 has 3 cells where 2 are expected"),
        ("0,5;1.5\n0,6;2.5\n", "is no number"),
        ("t;x\n0;1,234,5\n1;1\n", "line 2, cell 2: '1,234,5' is no number"),
        ("t;x\n0;0x10\n1;1\n", "line 2, cell 2: '0x10' is no number"),
        ("t;x\n0;1_0\n1;1\n", "line 2, cell 2: '1_0' is no number"),
        ("t;x\n0;1.5\n1;nan\n2;0.1\n", "line 3: column 2 'x' holds nan at index 1 (from 0)"),
        ("t;x\n0;1.5\n1;-inf\n2;0.1\n", "channel 1 holds -inf at index 1 (from 0)"),
        ("t;x\n0;1.5\n1;1e999\n2;0.1\n", "channel 1 holds inf at index 1"),
        ("time;x\n2024-05-01 10:00:00;1\n10:00:01;2\n", "cell 1: '10:00:01' is no number"),
        ("just words\n", "'just words' is no line of numbers, and no others follow"),
        ("just words\nand more words\n", "line 2, cell 1: 'and' is no number"),
        ("0,5\n0,6\n", "the comma in '0,5' may separate two columns or be a decimal sign"),
        ("time\n0.1\n0.2\n", "holds only a time column"),
        ("time,sample\n0.1,1\n0.2,2\n0.3,3\n", "holds no column of samples"),
        ("time [weeks],x\n0.1,1\n0.2,2\n", "is in weeks, which is no known unit of time"),
        ("time,x\n0.1,1.5\n", "holds 1 sample, a recording needs at least 2"),
        ("0.0,0.5\n0.1,0.6\n0.2,0.7\n", "column 1 and column 2 both look like time"),
        ("x,y\n1.5,2\n-3,2\n", "states no sampling rate; give the rate in Hz"),
    ],
)
def test_a_faulty_table_is_refused_with_its_place(
    tmp_path: Path, refused: Refused, text: str, message: str
) -> None:
    path = tmp_path / "a.csv"
    path.write_text(text)
    refused(path, message)


def test_binary_behind_a_text_start_is_refused(tmp_path: Path, refused: Refused) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(b"0.1,0.2\n" * 1000 + b"\x00\x01")
    refused(path, "its content is not readable text")


@pytest.mark.parametrize(
    ("unit", "scale_m_s2"),
    [
        ("g", STANDARD_GRAVITY_M_S2),
        ("mg", STANDARD_GRAVITY_M_S2 / 1000),
        ("m/s2", 1.0),
        ("m/s^2", 1.0),
        ("m/s²", 1.0),
    ],
)
@pytest.mark.parametrize("brackets", ["x [{}]", "x ({})", "x({}) "])
def test_a_unit_in_the_header_counts_and_is_stated(
    tmp_path: Path, read_one: ReadOne, unit: str, scale_m_s2: float, brackets: str
) -> None:
    path = tmp_path / "a.csv"
    path.write_text(f"time [s],{brackets.format(unit)}\n0,1.5\n0.1,-2\n0.2,4\n")
    recording = read_one(path)
    np.testing.assert_allclose(
        recording.samples, np.array([1.5, -2, 4]) * scale_m_s2, rtol=RTOL_TEXT
    )
    assert recording.unit == "m/s2"
    assert recording.calibration is not None
    assert recording.calibration.source == (
        f"header of column 2 {brackets.format(unit).strip()!r}: unit {unit}"
    )


@pytest.mark.parametrize("header", ["x_g", "g", "acc g", "x [G]", "x [counts]", "x"])
def test_an_ambiguous_header_sets_no_unit(tmp_path: Path, read_one: ReadOne, header: str) -> None:
    path = tmp_path / "a.csv"
    path.write_text(f"time [s],{header}\n0,1.5\n0.1,-2\n0.2,4\n")
    recording = read_one(path)
    assert (recording.unit, recording.calibration) == ("counts", None)
    assert recording.samples.tolist() == [1.5, -2, 4]


@settings(deadline=None)
@given(
    values=st.lists(
        st.floats(-1e6, 1e6, allow_subnormal=False).map(lambda v: float(f"{v:.9g}")),
        min_size=2,
        max_size=30,
    ),
    decimal=st.sampled_from([".", ","]),
)
def test_any_column_of_numbers_survives(
    tmp_path_factory: pytest.TempPathFactory, values: list[float], decimal: str
) -> None:
    path = tmp_path_factory.mktemp("t") / "a.csv"
    lines = [f"{value!r};1{decimal}5".replace(".", decimal) for value in values]
    path.write_text("x;y\n" + "\n".join(lines))
    (recording,) = read_recording(path, options=ReadOptions(rate_hz=100.0))
    np.testing.assert_allclose(recording.samples, values, rtol=RTOL_TEXT, atol=0)
