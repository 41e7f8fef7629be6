"""`vibhealth trend` and `vibhealth outlook`, on INVENTED numbers written straight into a history."""

import json
import runpy
from pathlib import Path

import jsonschema
import pytest

from tests.cli.conftest import Run
from vibhealth.report import schema
from vibhealth.store import History

EXAMPLES = Path(__file__).parents[2] / "examples"
CARD = EXAMPLES / "F3.toml"
AS_OF = ("--as-of", "2031-05-14")


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("outlook") / "h.sqlite"
    fill = runpy.run_path(str(EXAMPLES / "07_rebuild_early.py"))["fill"]
    with History.open(place, create=True) as history:
        fill(history)
    return place


@pytest.fixture
def cards(tmp_path: Path) -> list[Path]:
    found = [CARD]
    for name in ("F4", "F5"):
        path = tmp_path / f"{name}.toml"
        path.write_text(CARD.read_text("utf-8").replace('id = "F3"', f'id = "{name}"', 1), "utf-8")
        found.append(path)
    return found


def test_the_page_answers_and_names_ranges_only(store: Path, run: Run) -> None:
    ended = run("outlook", CARD, "--store", store, *AS_OF)
    assert ended.code == 0, ended.err
    lines = ended.out.splitlines()
    assert "EARLY SIGN" in lines
    (answer,) = [line for line in lines if line.startswith("Order the spare; plan the rebuild")]
    assert "24 May 2031; no spare by then" in answer
    assert "36 of 36 readings are INVENTED: for practice, never evidence" in ended.out
    assert "between 02" in ended.out
    assert "hours left" not in ended.out.replace("never hours left", "")


def test_what_was_known_on_an_earlier_day(store: Path, run: Run) -> None:
    ended = run("outlook", CARD, "--store", store, "--as-of", "2030-12-24")
    assert "NO SIGN YET" in ended.out
    assert "recordings made after this day do not count" in ended.out


def test_silence_is_not_known(store: Path, run: Run) -> None:
    assert "EARLY SIGN" in run("outlook", CARD, "--store", store, "--as-of", "2031-09-14").out
    quiet = run("outlook", CARD, "--store", store, "--as-of", "2030-06-03")
    assert "NOT KNOWN" in quiet.out


def test_windows_on_the_command_line_go_before_the_card(store: Path, run: Run) -> None:
    ended = run("outlook", CARD, "--store", store, *AS_OF, "--window", "2031-05-20")
    assert "plan the rebuild for 20 May 2031" in ended.out
    assert "24 May 2031" not in ended.out


def test_json_keeps_its_schema(store: Path, run: Run) -> None:
    for name, command in (("outlook", ("outlook", CARD, *AS_OF)), ("trend", ("trend", CARD))):
        document = json.loads(run(*command, "--store", store, "--json").out)
        jsonschema.validate(document, schema(name))


def test_reports_are_written_and_not_replaced(store: Path, run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "o"
    ended = run("outlook", CARD, "--store", store, *AS_OF, "--output", folder)
    assert ended.code == 0, ended.err
    assert {p.name for p in folder.iterdir()} == {
        "outlook.html", "outlook.pdf", "outlook.json", "figures"
    }  # fmt: skip
    assert (folder / "outlook.pdf").read_bytes().startswith(b"%PDF")
    assert len(list((folder / "figures").iterdir())) == 2
    assert run("outlook", CARD, "--store", store, *AS_OF, "--output", folder).code == 2
    again = run("outlook", CARD, "--store", store, *AS_OF, "--output", folder, "--overwrite")
    assert again.code == 0


def test_trend_tables_and_figures(store: Path, run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "t"
    ended = run("trend", CARD, "--store", store, "--point", "P1X", "--over", "hours",
                "--output", folder)  # fmt: skip
    assert ended.code == 0, ended.err
    assert "load loaded, the others empty" in ended.out
    assert "rising: +" in ended.out
    assert {p.name for p in folder.iterdir()} == {"trend.html", "trend.json", "figures"}


def test_a_fleet_is_sorted_and_an_unknown_machine_stops_no_other(
    store: Path, run: Run, cards: list[Path], tmp_path: Path
) -> None:
    folder = tmp_path / "fleet"
    ended = run("outlook", *reversed(cards), "--store", store, *AS_OF, "--output", folder)
    assert ended.code == 0, ended.err
    places = [ended.out.index(f"\n  {name} ") for name in ("F3", "F4", "F5")]
    assert places == sorted(places)
    assert "NOT KNOWN" in ended.out
    assert (folder / "outlook-F4.html").is_file()
    assert (folder / "outlook.pdf").is_file()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("outlook", CARD, "--as-of", "14.5.2031"), "--as-of: '14.5.2031' is no date"),
        (("outlook", CARD, "--window", "soon"), "--window: 'soon' is no date"),
        (("trend", CARD, "--point", "P9"), "P9"),
        (("outlook", "nosuch.toml"), "nosuch.toml"),
    ],
)
def test_refusals(store: Path, run: Run, arguments: tuple[object, ...], words: str) -> None:
    ended = run(*arguments, "--store", store)
    assert ended.code == 2
    assert words in ended.err
    assert "Traceback" not in ended.err


def test_a_machine_alone_must_be_in_the_history(
    store: Path, run: Run, cards: list[Path], tmp_path: Path
) -> None:
    for command in ("outlook", "trend"):
        unknown = run(command, cards[1], "--store", store)
        assert unknown.code == 2
        assert "machine 'F4' is not in this history (it knows F3)" in unknown.err
        missing = run(command, CARD, "--store", tmp_path / "none.sqlite")
        assert missing.code == 2
        assert "there is no history here" in missing.err


def test_each_machine_once(store: Path, run: Run, cards: list[Path], tmp_path: Path) -> None:
    alike = tmp_path / "alike.toml"
    alike.write_text(CARD.read_text("utf-8").replace('id = "F3"', 'id = "f3"', 1), "utf-8")
    for second in (CARD, alike):
        ended = run("outlook", cards[1], CARD, second, "--store", store, *AS_OF)
        assert ended.code == 2
        assert ended.out == ""
        assert "is asked for already" in ended.err
