"""``compare``: recordings, baselines and reference signatures side by side."""

import base64
import json
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

import jsonschema
import pandas as pd
import pytest
import soundfile

from tests.report.test_html import Page
from vibhealth.cli._output import NARROWEST
from vibhealth.report import schema

Run = Callable[..., Any]
SIGNATURES = Path(__file__).parents[2] / "reference_spectra" / "signatures"
# 17 / 2 (1 - 26 / 160): the outer ring's order of the template; the invented cage slips a little.
OUTER_RING = 7.11875
SLIP_PERCENT = 1.5
SPECTRA = ("order-spectrum", "envelope-spectrum", "whitened-envelope-spectrum")
HOSTILE = "<img src=x onerror=alert(1)>&'.wav"


@dataclass(frozen=True)
class Sides:
    """What is compared: two recordings of P1X, the baseline of the first, a signature."""

    card: Path
    clean: Path
    faulty: Path
    baseline: Path
    signature: Path


@pytest.fixture(scope="session")
def sides(run: Run, job: Any, tmp_path_factory: pytest.TempPathFactory) -> Sides:
    store = tmp_path_factory.mktemp("of_clean")
    given = ("--card", job.card, "--point", "P1X", "--accepted-by", "B. Good")
    ended = run("baseline", "make", job.clean, *given, "--baselines", store)
    assert ended.code == 0, ended.err
    return Sides(
        card=job.card,
        clean=job.clean,
        faulty=job.faulty,
        baseline=store / "F3" / "P1X" / "v1",
        signature=SIGNATURES / "outer-ring",
    )


@pytest.fixture(scope="session")
def compare(run: Run, sides: Sides) -> Run:
    """Run ``compare`` at P1X with the card of the feeder."""

    def run_compare(*arguments: object) -> Any:
        return run("compare", *arguments, "--card", sides.card, "--point", "P1X")

    return run_compare


@dataclass(frozen=True)
class Written:
    """A comparison of all four, with the folder that it wrote."""

    folder: Path
    ended: Any
    document: Any


@pytest.fixture(scope="session")
def written(compare: Run, sides: Sides, tmp_path_factory: pytest.TempPathFactory) -> Written:
    folder = tmp_path_factory.mktemp("compared") / "größer" / "out"
    all_four = (sides.clean, sides.faulty, sides.baseline, sides.signature)
    ended = compare(*all_four, "--json", "--output", folder)
    assert ended.code == 0, ended.err
    return Written(folder=folder, ended=ended, document=json.loads(ended.out))


def table_of(path: Path, **options: Any) -> Any:
    """A table of pandas, whose cells may be anything."""
    return pd.read_csv(path, **options)


def refused(ended: Any, *words: str) -> None:
    """Exit 2 and one sentence with these words, on stderr."""
    assert ended.code == 2, ended.out
    assert ended.out == ""
    assert "Traceback" not in ended.err
    assert len(ended.err.strip().splitlines()) == 1, ended.err
    for word in words:
        assert word in ended.err


def only(ended: Any) -> Any:
    """The one comparison of a document that keeps its schema."""
    assert ended.code == 0, ended.err
    document = json.loads(ended.out)
    jsonschema.validate(document, schema("comparison"))
    (comparison,) = document["comparisons"]
    return comparison


def outer_lines(comparison: Any, side: str = "B") -> list[Any]:
    """Lines of the envelope where the outer ring's own line may lie."""
    return [
        line
        for line in comparison["raised_lines"]
        if line["side"] == side
        and line["spectrum"] == "envelope-spectrum"
        and abs(line["order"] / OUTER_RING - 1) <= 0.01 * SLIP_PERCENT
    ]


# --- what differs -----------------------------------------------------------------------------


def test_a_defect_stands_above_the_good_recording(compare: Run, sides: Sides) -> None:
    comparison = only(compare(sides.clean, sides.faulty, "--json"))
    assert comparison["point"] == "P1X"
    assert [side["letter"] for side in comparison["sides"]] == ["A", "B"]
    assert [side["kind"] for side in comparison["sides"]] == ["recording", "recording"]
    assert [side["name"] for side in comparison["sides"]] == [str(sides.clean), str(sides.faulty)]
    (line,) = outer_lines(comparison)
    assert line["difference_db"] > line["allowed_db"] + 6
    shaft_hz = comparison["sides"][1]["shaft_frequency_hz"]
    assert line["frequency_hz"] == pytest.approx(line["order"] * shaft_hz, rel=1e-9)
    families = {row["element"]: row for row in comparison["families"]}
    assert families["outer-ring"]["significant"] == [False, True]
    first, second = families["outer-ring"]["differences_db"]
    assert first == 0
    assert second > 6
    stroke = next(row for row in comparison["values"] if row["id"] == "stroke-mm")
    assert stroke["values"] == pytest.approx([6.0, 6.0], rel=0.01)  # of the template card
    assert stroke["differences_db"] == pytest.approx([0.0, 0.0], abs=0.1)


def test_the_good_one_lacks_nothing_of_the_faulty(compare: Run, sides: Sides) -> None:
    """The first is the reference: turned round, the same defect is no line above A."""
    comparison = only(compare(sides.faulty, sides.clean, "--json"))
    assert outer_lines(comparison) == []
    families = {row["element"]: row for row in comparison["families"]}
    assert families["outer-ring"]["differences_db"][1] < -6


def test_a_recording_and_the_baseline_made_of_it_are_the_same(compare: Run, sides: Sides) -> None:
    comparison = only(compare(sides.clean, sides.baseline, "--json"))
    recording, baseline = comparison["sides"]
    assert (recording["kind"], recording["digest"]) == ("recording", None)
    assert (baseline["kind"], baseline["n_recordings"]) == ("baseline", 1)
    assert recording["recordings"] == baseline["recordings"]
    assert comparison["raised_lines"] == []
    assert {row["differences_db"][1] for row in comparison["families"]} == {0.0}
    assert {row["differences_db"][1] for row in comparison["values"]} <= {0.0, None}
    assert comparison["not_compared"] == []
    assert {finding["result"] for finding in comparison["conditions"]} == {"pass"}


def test_a_defect_stands_above_the_baseline(compare: Run, sides: Sides) -> None:
    with_baseline = only(compare(sides.baseline, sides.faulty, "--json"))
    with_recording = only(compare(sides.clean, sides.faulty, "--json"))
    assert with_baseline["raised_lines"] == with_recording["raised_lines"]
    assert with_baseline["values"] == with_recording["values"]


def test_the_signature_of_the_outer_ring_shows_it(compare: Run, sides: Sides) -> None:
    comparison = only(compare(sides.clean, sides.signature, "--json"))
    signature = comparison["sides"][1]
    assert (signature["kind"], signature["n_recordings"]) == ("signature", 0)
    assert signature["meaning"] == "One spall on the outer ring."
    assert signature["label"].startswith("INVENTED")
    assert len(outer_lines(comparison)) == 1
    told = " ".join(comparison["not_compared"])
    assert "read in different bands, compared for the look of it" in told
    assert "signature outer-ring has no whitened envelope spectrum" in told
    assert all(row["values"][1] is None for row in comparison["values"])


def test_two_signatures_need_no_recording(run: Run, sides: Sides) -> None:
    given = (SIGNATURES / "healthy", sides.signature, "--card", sides.card, "--json")
    comparison = only(run("compare", *given))
    assert [side["name"] for side in comparison["sides"]] == [
        "signature healthy",
        "signature outer-ring",
    ]
    assert len(outer_lines(comparison)) == 1
    assert comparison["values"] == []


def test_other_conditions_are_said_and_nothing_is_left_out(
    compare: Run, sides: Sides, tmp_path: Path
) -> None:
    cold = renamed(sides.clean, tmp_path, "cold.wav")
    sidecar = cold.with_suffix(".toml")
    text = sidecar.read_text("utf-8")
    for was, becomes in (("temperature_c = 50.0", "temperature_c = 5.0"), ('"empty"', '"loaded"')):
        assert text.count(was) == 1
        text = text.replace(was, becomes)
    sidecar.write_text(text, "utf-8")
    comparison = only(compare(sides.clean, cold, "--json"))
    results = {finding["id"]: finding["result"] for finding in comparison["conditions"]}
    assert results["temperature"] == results["load"] == "not-judged"
    assert results["speed"] == "pass"
    assert {finding["side"] for finding in comparison["conditions"]} == {"B"}
    assert len(comparison["families"]) == 4
    page = " ".join(compare(sides.clean, cold).out.split())
    assert "CONDITIONS THAT DIFFER FROM A" in page
    assert "B: housing at 5 °C against 50 °C in the reference: cold oil sounds otherwise" in page
    assert "B: load is loaded, in the reference empty" in page


# --- text -------------------------------------------------------------------------------------


def test_the_page_names_sides_lines_families_and_levels(compare: Run, sides: Sides) -> None:
    ended = compare(sides.clean, sides.faulty, sides.signature)
    assert (ended.code, ended.err) == (0, "")
    lines = ended.out.splitlines()
    assert lines[0] == "Deck feeder F3, P1X: 3 sides, A is the reference"
    assert "INVENTED" in lines[1]
    page = "".join(ended.out.split())
    for name, path in (("A", sides.clean), ("B", sides.faulty)):
        assert f"{name}{path}(recording):973" in page
    assert "Csignatureouter-ring(signature)" in page
    for title in ("FAMILIES (WHITENED DEPTH)", "LINES ABOVE A", "LEVELS AND MOTION"):
        assert title in lines
    (row,) = [line for line in lines if line.strip().startswith("Outer ring of bearing upper")]
    assert row.split("upper", 1)[1].split()[1] == "(noise)"
    assert "the outer ring of" in ended.out
    assert "B over A" in ended.out
    assert "C over A" in ended.out
    assert max(map(len, lines)) <= 100


def test_details_add_the_other_levels(compare: Run, sides: Sides) -> None:
    short = compare(sides.clean, sides.baseline).out
    long = compare(sides.clean, sides.baseline, "--details").out
    assert "none beyond what is allowed" in short
    assert len(long.splitlines()) > len(short.splitlines())
    for words in ("peak, working motion", "kurtosis"):
        assert words not in short.casefold()
        assert words in long.casefold(), long


def test_a_terminal_of_forty_columns_is_wide_enough(
    compare: Run, sides: Sides, monkeypatch: pytest.MonkeyPatch
) -> None:
    module = import_module("vibhealth.cli.compare")
    monkeypatch.setattr(module, "terminal_form", lambda: (NARROWEST, False))
    ended = compare(sides.clean, sides.faulty, sides.signature)
    assert (ended.code, ended.err) == (0, "")
    assert max(map(len, ended.out.splitlines())) <= NARROWEST


def test_every_point_that_all_share_is_compared(run: Run, sides: Sides) -> None:
    both = run("compare", sides.clean, sides.clean, "--card", sides.card, "--json")
    assert both.code == 0, both.err
    assert [one["point"] for one in json.loads(both.out)["comparisons"]] == ["P1X", "P1Y"]
    shared = run("compare", sides.clean, sides.baseline, "--card", sides.card, "--json")
    assert only(shared)["point"] == "P1X"


# --- files ------------------------------------------------------------------------------------


def test_the_document_and_the_file_are_the_same(written: Written) -> None:
    jsonschema.validate(written.document, schema("comparison"))
    assert written.document.keys() == {"schema_version", "tool", "machine", "comparisons"}
    assert json.loads((written.folder / "compare.json").read_text("utf-8")) == written.document
    assert written.document["machine"] == {"id": "F3", "name": "Deck feeder F3"}
    (comparison,) = written.document["comparisons"]
    kinds = [side["kind"] for side in comparison["sides"]]
    assert kinds == ["recording", "recording", "baseline", "signature"]
    assert written.ended.err == f"Figures, tables and compare.html are in {written.folder}\n"


def test_the_page_is_one_file_that_fetches_nothing(written: Written) -> None:
    text = (written.folder / "compare.html").read_text("utf-8")
    page = Page(text)
    assert {tag for tag, _ in page.tags}.isdisjoint({"script", "link", "iframe", "object", "base"})
    assert "http://" not in text
    assert "https://" not in text
    for _, attributes in page.tags:
        for name in ("src", "href", "srcset", "action", "data", "poster", "background"):
            assert (attributes.get(name) or "data:").startswith("data:")
    assert "this page gives no verdict" in text
    assert "INVENTED" in text
    assert "One spall on the outer ring." in text


def test_the_figures_stand_in_the_page_and_in_their_folder(written: Written) -> None:
    images = Page((written.folder / "compare.html").read_text("utf-8")).named("img")
    figures = {path.stem: path.read_bytes() for path in (written.folder / "figures").iterdir()}
    wanted = {f"compare-P1X-{name}" for name in (*SPECTRA, "half-octaves")}
    assert figures.keys() == wanted
    assert all(png.startswith(b"\x89PNG") for png in figures.values())
    inside = [base64.b64decode((image["src"] or "").partition(",")[2]) for image in images]
    assert sorted(inside) == sorted(figures.values())
    assert all(image["alt"] for image in images)


def test_values_are_read_by_pandas(written: Written) -> None:
    (comparison,) = written.document["comparisons"]
    table = table_of(written.folder / "P1X-values.csv", index_col="id")
    assert list(table.columns) == [
        "title", "unit", "A", "B", "C", "D", "B_over_A_db", "C_over_A_db", "D_over_A_db",
    ]  # fmt: skip
    assert len(table) == len(comparison["values"])
    assert table.loc["stroke-mm", "unit"] == "mm"
    assert table.loc["stroke-mm", "A"] == pytest.approx(6.0, rel=0.01)  # of the template card
    assert table["unit"].notna().all()
    assert table["D"].isna().all()
    assert (table["C_over_A_db"].dropna() == 0).all()


def test_families_are_read_by_pandas(written: Written) -> None:
    table = table_of(written.folder / "P1X-families.csv", index_col="element")
    assert set(table["bearing"]) == {"upper"}
    assert set(table.index) == {"outer-ring", "inner-ring", "rolling-element", "cage"}
    assert table.loc["outer-ring", "B_over_A_db"] > 6
    ratio = table["depth_whitened_B"] / table["depth_whitened_A"]
    assert ratio["outer-ring"] == pytest.approx(10 ** (table.loc["outer-ring", "B_over_A_db"] / 20))


@pytest.mark.parametrize(("side", "kinds"), [("B", SPECTRA), ("C", SPECTRA), ("D", SPECTRA[:2])])
def test_spectra_are_read_by_pandas(written: Written, side: str, kinds: tuple[str, ...]) -> None:
    (comparison,) = written.document["comparisons"]
    found = sorted(path.name for path in written.folder.glob(f"P1X-*-{side}.csv"))
    assert found == sorted(f"P1X-{kind}-{side}.csv" for kind in kinds)
    for kind in kinds:
        table = table_of(written.folder / f"P1X-{kind}-{side}.csv")
        quantity = "amplitude_m_s2" if kind == "order-spectrum" else "depth"
        assert list(table.columns) == [
            "order", f"{quantity}_{side}", f"{quantity}_A", "difference_db", "allowed_db",
        ]  # fmt: skip
        assert table.notna().to_numpy().all()
        assert table["order"].diff().dropna().to_numpy() == pytest.approx(0.02, abs=1e-9)
        for line in comparison["raised_lines"]:
            if (line["side"], line["spectrum"]) == (side, kind):
                (row,) = table.index[abs(table["order"] - line["order"]) < 0.005]
                assert table.loc[row, "difference_db"] == pytest.approx(line["difference_db"])
                assert table.loc[row, f"{quantity}_{side}"] == pytest.approx(line["amplitude"])


def test_what_is_there_already_is_not_replaced(
    compare: Run, sides: Sides, written: Written, tmp_path: Path
) -> None:
    folder = Path(shutil.copytree(written.folder, tmp_path / "out"))
    was = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    given = (SIGNATURES / "healthy", sides.baseline, "--output", folder)
    refused(compare(*given), str(folder / "compare.html"), "exists already", "--overwrite")
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == was
    ended = compare(*given, "--overwrite")
    assert ended.code == 0, ended.err
    html = (folder / "compare.html").read_text("utf-8")
    assert "signature healthy" in html
    assert "signature outer-ring" not in html


# --- names ------------------------------------------------------------------------------------


def renamed(recording: Path, folder: Path, name: str) -> Path:
    """A copy of recording and sidecar."""
    path = folder / name
    shutil.copyfile(recording, path)
    shutil.copyfile(recording.with_suffix(".toml"), path.with_suffix(".toml"))
    return path


def test_hostile_names_are_text_and_umlauts_are_kept(
    compare: Run, sides: Sides, tmp_path: Path
) -> None:
    folder = tmp_path / "Förderer Süd"
    folder.mkdir()
    hostile = renamed(sides.clean, folder, HOSTILE)
    umlauts = renamed(sides.clean, folder, "nachher größer µ.wav")
    report = folder / "Bericht für Jörg"
    ended = compare(SIGNATURES / "healthy", hostile, umlauts, "--json", "--output", report)
    names = [side["name"] for side in only(ended)["sides"]]
    assert names == ["signature healthy", str(hostile), str(umlauts)]
    assert "größer" in ended.out
    page = Page((report / "compare.html").read_text("utf-8"))
    assert [image for image in page.named("img") if "onerror" in image] == []
    assert [word for word in page.words if word in names] == names


def test_a_terminal_control_in_a_file_name_does_nothing(
    compare: Run, sides: Sides, tmp_path: Path
) -> None:
    hostile = renamed(sides.clean, tmp_path, "red\x1b[31m.wav")
    ended = compare(hostile, sides.baseline)
    assert ended.code == 0, ended.err
    assert "\x1b" not in ended.out
    assert "red\\x1b[31m.wav" in "".join(ended.out.split())


# --- refusals ---------------------------------------------------------------------------------


def test_one_source_is_not_enough(compare: Run, sides: Sides) -> None:
    refused(compare(sides.clean), "give at least two recordings or baselines to compare")


def test_the_card_is_needed(run: Run, sides: Sides) -> None:
    ended = run("compare", sides.clean, sides.faulty)
    assert (ended.code, ended.out) == (2, "")
    assert "--card" in ended.err


def test_without_a_common_point_there_is_nothing_to_compare(
    run: Run, sides: Sides, job: Any, tmp_path: Path
) -> None:
    """Only P1Y is in the one, P1X in the other."""
    other = renamed(sides.clean, tmp_path, "y.wav")
    sidecar = other.with_suffix(".toml")
    text = sidecar.read_text("utf-8")
    first = '[[channel]]\nchannel = 1\npoint = "P1X"\ndirection = "x"\n'
    assert text.count(first) == 1
    sidecar.write_text(text.replace(first, ""), "utf-8")
    ended = run("compare", other, sides.baseline, "--card", job.card)
    refused(ended, "no measurement point is in all of them (P1Y; P1X)")


def test_a_folder_that_is_nothing(compare: Run, sides: Sides, tmp_path: Path) -> None:
    refused(compare(sides.clean, tmp_path), str(tmp_path), "neither a baseline nor a reference")
    place = sides.baseline.parent
    refused(compare(sides.clean, place), str(place), "the folder of one version")


def test_a_file_that_is_not_there(compare: Run, sides: Sides, tmp_path: Path) -> None:
    gone = tmp_path / "gone.wav"
    refused(compare(sides.clean, gone), str(gone), "no such file")


def test_a_damaged_baseline(compare: Run, sides: Sides, tmp_path: Path) -> None:
    damaged = Path(shutil.copytree(sides.baseline, tmp_path / "v1"))
    (damaged / "order_spectrum.csv").write_text("order\n", "utf-8")
    ended = compare(damaged, sides.faulty)
    refused(ended, str(damaged / "order_spectrum.csv"), "changed since the baseline was made")


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("facts.toml", "schema_version = 1\n"),
        ("facts.toml", "]"),
        ("envelope_spectrum.csv", "order,depth_x,depth_y\n0.10,0.01,0.01\n0.1"),
        pytest.param(
            "order_spectrum.csv",
            "order,amplitude_x_m_s2,amplitude_y_m_s2\n",
        ),
    ],
)
def test_a_damaged_signature(
    compare: Run, sides: Sides, tmp_path: Path, name: str, content: str
) -> None:
    damaged = Path(shutil.copytree(sides.signature, tmp_path / "outer-ring"))
    (damaged / name).write_text(content, "utf-8")
    refused(compare(sides.clean, damaged), str(damaged), "no reference signature can be read")


def test_an_unknown_point(run: Run, sides: Sides) -> None:
    given = ("--card", sides.card, "--point", "P9")
    refused(run("compare", sides.clean, sides.faulty, *given), "P9", "P1X, P1Y")


def test_an_unknown_point_of_signatures(run: Run, sides: Sides) -> None:
    given = ("--card", sides.card, "--point", "P9")
    refused(run("compare", SIGNATURES / "healthy", sides.signature, *given), "P9", "P1X, P1Y")


def test_a_point_that_does_not_move_with_the_body(run: Run, sides: Sides, tmp_path: Path) -> None:
    samples, rate = soundfile.read(sides.clean, always_2d=True)
    short = renamed(sides.clean, tmp_path, "short.wav")
    soundfile.write(short, samples[: 4 * rate], rate, subtype=soundfile.info(sides.clean).subtype)
    card = tmp_path / "on_base.toml"
    text = sides.card.read_text("utf-8")
    assert text.count('\nname = "P1X" ') == 1
    on_base = text.replace('\nname = "P1X" ', '\nmounted_on = "base"\nname = "P1X" ')
    card.write_text(on_base, "utf-8")
    ended = run("compare", short, sides.baseline, "--card", card, "--point", "P1X")
    assert ended.code == 2
    assert "no complete baseline" not in ended.err
    assert "body" in ended.err


def test_nothing_is_written_where_it_is_refused(compare: Run, sides: Sides, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    refused(compare(sides.clean, tmp_path / "gone.wav", "--output", folder), "gone.wav")
    assert not folder.exists()


def test_a_table_that_is_there_is_refused_before_anything_is_written(
    compare: Run, sides: Sides, tmp_path: Path
) -> None:
    table = tmp_path / "P1X-values.csv"
    table.write_text("mine\n", "utf-8")
    ended = compare(SIGNATURES / "healthy", sides.baseline, "--output", tmp_path)
    refused(ended, str(table), "exists already")
    assert list(tmp_path.iterdir()) == [table]
