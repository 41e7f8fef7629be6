"""Editing in place: just the named values change; comments, order and line ends stay."""

import re
import tomllib
from collections import Counter
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from vibhealth._toml import toml_value
from vibhealth.errors import InputError, JobError, OutputError
from vibhealth.job import edit_record, job_template, read_job
from vibhealth.job._toml_places import comments, toml_places
from vibhealth.job.editing import edited, with_row, write_aside

PLACE = Path("job.toml")

GNARLY = '''\
# "not a string
title = "a # b \\" ]"   # "c"
"dotted.key" = 1
a.b = 2 # two
[ "quoted [table]" . x ]  # 'three
'single = x' = 'it"s'
text = """
[not.a.table]
key = 'no key' # no comment
two quotes at the end""\\
"""""  # four
raw = \'\'\'
# no comment \\\'\'\'\'   # five
list = [ # six
  [1, 2], # seven ]
  { c = "]", d = [ "}" ] }, "x",
] # eight
when = 2031-03-05 13:00:00   # nine
[[row]]
n = 1
[row.sub]
m = 2
[[row]]
n = 3
[row.sub]
m = 4'''


def test_places_of_a_gnarly_text_are_its_values() -> None:
    places = toml_places(GNARLY)
    parsed = tomllib.loads(GNARLY)
    for path, (start, end) in places.values.items():
        value: Any = parsed
        for key in path:
            value = value[key]
        assert tomllib.loads(f"x = {GNARLY[start:end]}")["x"] == value, path
    assert set(places.values) == {
        ("title",),
        ("dotted.key",),
        ("a", "b"),
        *(("quoted [table]", "x", key) for key in ("single = x", "text", "raw", "list", "when")),
        *((("row", n, *rest)) for n in (0, 1) for rest in (("n",), ("sub", "m"))),
    }


def test_comments_of_a_gnarly_text() -> None:
    words = [comment.split()[-1].strip("\"'") for comment in comments(GNARLY)]
    assert words == ["string", "c", "two", "three", "four", "five", "six", "]", "eight", "nine"]


RECORD = """\
# my note
[job]  # facts
machine = "F3"   # painted on

  noise = ''# none
# behind job
[oil]
grade = ""  # drum
"""


def test_a_value_is_replaced_and_nothing_else() -> None:
    text = edited(RECORD, {("job", "machine"): "F4", ("oil", "grade"): "VG 220"}, path=PLACE)
    assert text == RECORD.replace('"F3"', '"F4"').replace('grade = ""', 'grade = "VG 220"')


def test_a_missing_key_goes_to_the_end_of_its_table() -> None:
    text = edited(RECORD, {("job", "remarks"): "x"}, path=PLACE)
    assert text == RECORD.replace("# none\n", '# none\nremarks = "x"\n')


def test_a_missing_table_goes_to_the_end() -> None:
    text = edited(RECORD, {("clearance", "guard_mm"): (15.0, 16.5)}, path=PLACE)
    assert text == RECORD + "\n[clearance]\nguard_mm = [15.0, 16.5]\n"


def test_a_key_right_below_a_header_and_without_final_line_end() -> None:
    assert edited("[oil]", {("oil", "grade"): "x"}, path=PLACE) == '[oil]\ngrade = "x"'


def test_windows_line_ends_and_byte_order_mark_stay() -> None:
    text = "\ufeff" + RECORD.replace("\n", "\r\n")
    changed = edited(
        text,
        {("job", "machine"): "F4", ("oil", "x"): ((1.0,), (2.0,)), ("new", "k"): True},
        path=PLACE,
    )
    changed = with_row(changed, "temperature", {"housing_c": 30.0}, path=PLACE)
    assert changed.count("\n") == changed.count("\r\n") > text.count("\n")
    assert changed.startswith('\ufeff# my note\r\n[job]  # facts\r\nmachine = "F4"   # painted on')


def test_comments_inside_of_a_replaced_list_move_above_it() -> None:
    text = "[t]\na = 1\nstages = [ # mine\n  [], # first\n] # kept\nb = 2\n"
    changed = edited(text, {("t", "stages"): ((1.0,),)}, path=PLACE)
    assert changed == "[t]\na = 1\n# mine\n# first\nstages = [\n  [1.0],\n] # kept\nb = 2\n"


@pytest.mark.parametrize(
    "text", ["oil = { grade = '' }\n", "oil = 3\n", "[oil]\n[oil.grade]\nx = 1\n"]
)
def test_another_form_is_refused_and_named(text: str) -> None:
    sentence = r"job\.toml: oil\.grade cannot be changed in place, .*the file is as it was"
    with pytest.raises(JobError, match=sentence):
        edited(text, {("oil", "grade"): "x"}, path=PLACE)


def test_a_list_of_another_form_takes_no_row() -> None:
    with pytest.raises(JobError, match=re.escape("[[temperature]] cannot be changed in place")):
        with_row("temperature = []\n", "temperature", {"housing_c": 1.0}, path=PLACE)


def test_a_dotted_key_is_found() -> None:
    assert edited("oil.grade = 'a' # b\n", {("oil", "grade"): "c"}, path=PLACE) == (
        'oil.grade = "c" # b\n'
    )


def test_the_file_stays_as_it_was_when_an_edit_is_refused(job: Path) -> None:
    path = job / "job.toml"
    text = path.read_text("utf-8").replace('[oil]\ngrade = ""', "[oil]\ngrade = 3")
    path.write_text(text, "utf-8")
    with pytest.raises(JobError, match=r"oil\.grade: must be text"):
        edit_record(path, {("oil", "filled_l"): 4.5})
    fresh = text.replace("grade = 3", 'grade = ""')
    path.write_text(fresh, "utf-8")
    with pytest.raises(JobError, match=r"oil\.filled_l: must be at most 1000"):
        edit_record(path, {("oil", "filled_l"): 4500.0})
    assert path.read_text("utf-8") == fresh
    assert [place.name for place in job.iterdir() if place.name.endswith(".part")] == []


def test_what_a_text_editor_saved_meanwhile_is_kept(job: Path) -> None:
    path = job / "job.toml"
    edit_record(path, {("oil", "filled_l"): 4.5})
    path.write_text(path.read_text("utf-8") + "# added by hand\n", "utf-8")
    edit_record(path, {("oil", "drained_l"): 4.0})
    text = path.read_text("utf-8")
    assert text.endswith("# added by hand\n")
    assert (read_job(job).oil.filled_l, read_job(job).oil.drained_l) == (4.5, 4.0)


def test_an_edit_keeps_the_permissions_and_follows_a_link(tmp_path: Path, job: Path) -> None:
    real = tmp_path / "elsewhere.toml"
    (job / "job.toml").rename(real)
    real.chmod(0o640)
    (job / "job.toml").symlink_to(real)
    edit_record(job / "job.toml", {("oil", "filled_l"): 4.5})
    assert (job / "job.toml").is_symlink()
    assert real.stat().st_mode & 0o777 == 0o640
    assert "filled_l = 4.5" in real.read_text("utf-8")


def test_a_file_that_cannot_be_written_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"cannot write .*job\.toml: No such file"):
        write_aside(tmp_path / "gone" / "job.toml", b"x")


TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=40) | st.sampled_from(
    [
        '"""',
        "'''",
        "\\",
        "a\nb\r\nc\td",
        "# no comment",
        "[table]",
        "\x00\x7f\u2028",
        '"',
        "é\u0301",
    ]
)
TIMES = st.datetimes(datetime(1990, 1, 1), datetime(2199, 1, 1)) | st.datetimes(  # noqa: DTZ001
    datetime(1990, 1, 1),  # noqa: DTZ001
    datetime(2199, 1, 1),  # noqa: DTZ001
    timezones=st.sampled_from([UTC, timezone(timedelta(hours=-9, minutes=-30))]),
)
FLOATS = st.floats(allow_nan=False, allow_infinity=False)
VALUES = (
    TEXTS
    | TIMES
    | FLOATS
    | st.booleans()
    | st.integers(-(2**63), 2**63 - 1)
    | st.lists(FLOATS, max_size=4)
    | st.lists(st.lists(FLOATS, max_size=3), max_size=3)
    | st.lists(TEXTS, max_size=3)
)


@given(VALUES)
def test_a_value_comes_back_as_it_was(value: Any) -> None:
    assert tomllib.loads(f"x = {toml_value(value)}")["x"] == value


@settings(max_examples=60, deadline=None)
@given(first=VALUES, second=VALUES, third=VALUES)
def test_edits_come_back_and_lose_no_comment(first: Any, second: Any, third: Any) -> None:
    where = [("job", "machine"), ("oil", "grade"), ("new", "key")]
    text = RECORD
    for value, path in [*zip((first, second, third), where, strict=True), (third, where[0])]:
        before = tomllib.loads(text)
        kept = Counter(comments(text))
        text = edited(text, {path: value}, path=PLACE)
        before.setdefault(path[0], {})[path[1]] = value
        assert tomllib.loads(text) == before
        assert Counter(comments(text)) == kept


@settings(
    max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(remark=TEXTS)
def test_any_remark_survives_in_a_whole_record(job: Path, remark: str) -> None:
    path = job / "job.toml"
    before = Counter(comments(path.read_bytes().decode()))
    edit_record(path, {("check", "no-knock", "remark"): remark})
    assert tomllib.loads(path.read_bytes().decode())["check"]["no-knock"]["remark"] == remark
    assert Counter(comments(path.read_bytes().decode())) == before


def test_a_text_that_is_no_text_is_refused() -> None:
    with pytest.raises(InputError, match=r"holds a sign that is not UTF-8; type it again"):
        toml_value("a\udc80")


def test_every_key_of_the_template_can_be_edited(job: Path) -> None:
    record = read_job(job)
    assert record.machine_card is not None
    text = job_template(record.machine_card, card_name="F3.toml")
    places = toml_places(text).values
    changed = edited(text, dict.fromkeys(places, "x"), path=PLACE)  # type: ignore[arg-type]
    assert changed.count(' = "x"') == len(places)
    assert changed.count("\n") == text.count("\n") - 4  # the list of the three stages
