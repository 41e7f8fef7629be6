"""A baseline as text: what stands in the files, number for number, and what cannot be read."""

import csv
import hashlib
import io
import re
import tomllib
from collections.abc import Callable
from dataclasses import fields, is_dataclass, replace
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from vibhealth.baseline import Baseline, Status, baseline_documents
from vibhealth.baseline.files import FACTS, SUMS, sums_text
from vibhealth.baseline.parsing import parse_baseline
from vibhealth.errors import BaselineError

Make = Callable[..., Baseline]
FOLDER = Path("baselines/F3/P1X/v1")


def parsed(documents: dict[str, str]) -> Baseline:
    content = {name: text.encode() for name, text in documents.items()}
    return parse_baseline(content, path=FOLDER, digest="d")


def assert_same(one: Any, two: Any, where: str = "baseline") -> None:
    """Every field alike; arrays bit for bit, so that a missing number equals a missing number."""
    assert type(one) is type(two), where
    if is_dataclass(one):
        for field in fields(one):
            assert_same(getattr(one, field.name), getattr(two, field.name), f"{where}.{field.name}")
    elif isinstance(one, tuple):
        assert len(one) == len(two), where
        for place, (first, second) in enumerate(zip(one, two, strict=True)):
            assert_same(first, second, f"{where}[{place}]")
    elif isinstance(one, np.ndarray):
        assert (one.dtype, one.shape) == (two.dtype, two.shape), where
        assert one.tobytes() == two.tobytes(), where
    else:
        assert one == two, where


def stored(baseline: Baseline) -> Baseline:
    """As it must come back: with where it was read from."""
    return replace(baseline, digest="d", path=str(FOLDER))


def test_every_field_comes_back_as_it_was(make_baseline: Make) -> None:
    baseline = make_baseline(version=7)
    assert_same(parsed(baseline_documents(baseline)), stored(baseline))


@pytest.mark.parametrize(
    "change",
    [
        {"orbit": None},
        {"bands_spread_db": None},
        {"families": ()},
        {"scalars": ()},
        {"spectra": ()},
        {"detectable_depths": ()},
        {"flags": ()},
        {"label": "", "note": "", "accepted_by": "", "status": Status.CANDIDATE},
        {"harmonics_db": np.full(9, np.nan)},
        {"made_at": datetime(2026, 3, 2, 9, 30, tzinfo=timezone(timedelta(hours=5, minutes=30)))},
        {"note": 'tab\tand \\ and \x07 and \x7f and \u2028 and \'quotes\' and """ and #'},
    ],
    ids=lambda change: next(iter(change)),
)
def test_what_is_not_known_comes_back_as_not_known(
    make_baseline: Make, change: dict[str, Any]
) -> None:
    baseline = make_baseline(**change)
    assert_same(parsed(baseline_documents(baseline)), stored(baseline))


def test_conditions_that_are_not_known_come_back(make_baseline: Make) -> None:
    full = make_baseline()
    bare = replace(
        full.conditions,
        temperature_c=None,
        load="",
        direction="",
        sensor="",
        mount="",
        unit="counts",
    )
    first, *others = full.spectra
    spectra = (replace(first, unit="counts", spread_db=None, n_recordings=1), *others)
    baseline = replace(full, conditions=bare, spectra=spectra)
    assert_same(parsed(baseline_documents(baseline)), stored(baseline))


def test_numbers_of_any_size_keep_all_their_digits(make_baseline: Make) -> None:
    """Doubles from 1e-300 to 1e300 of both signs, each by the shortest text that reads back alike."""
    rng = np.random.default_rng(3)
    numbers = 10.0 ** rng.uniform(-300, 300, 200) * rng.choice([-1.0, 1.0], 200)
    baseline = make_baseline(
        bands_db=numbers, bands_centre_hz=np.abs(numbers), bands_spread_db=numbers[::-1].copy()
    )
    assert_same(parsed(baseline_documents(baseline)), stored(baseline))


def test_writing_what_was_read_gives_the_same_text(make_baseline: Make) -> None:
    documents = baseline_documents(make_baseline(version=2))
    assert baseline_documents(parsed(documents)) == documents


def test_columns_name_their_units(make_baseline: Make) -> None:
    documents = baseline_documents(make_baseline())
    heads = {name: text.partition("\n")[0] for name, text in documents.items() if ".csv" in name}
    assert heads == {
        "order_spectrum.csv": "order,amplitude_m_s2,above_floor_db,spread_db",
        "envelope_spectrum.csv": "order,depth,above_floor_db,spread_db",
        "whitened_envelope_spectrum.csv": "order,depth,above_floor_db,spread_db",
        "levels.csv": "id,title,unit,band_low_hz,band_high_hz,mean,spread_db,"
        "recording_1,recording_2,recording_3",
        "families.csv": "bearing,element,recording,order,slip_percent,false_alarm_probability,"
        "depth,depth_whitened,impact_m_s2,result",
        "half_octaves.csv": "centre_hz,density_db,spread_db",
        "harmonics.csv": "order,over_first_db",
        "sensitivity.csv": "bearing,element,detectable_depth",
    }


def test_tables_read_without_this_package(make_baseline: Make) -> None:
    baseline = make_baseline()
    documents = baseline_documents(baseline)
    levels = {row["id"]: row for row in csv.DictReader(io.StringIO(documents["levels.csv"]))}
    assert float(levels["b"]["mean"]) == pytest.approx(np.sqrt(3.0), rel=1e-12)
    assert float(levels["b"]["spread_db"]) == pytest.approx(20 * np.log10(3.0) / np.sqrt(2))
    assert (levels["b"]["recording_2"], levels["c"]["mean"]) == ("", "")
    facts = tomllib.loads(documents[FACTS])
    assert facts["baseline"]["made_at"] == baseline.made_at
    assert [row["moment"] for row in facts["recording"][1:]] == ["7d", "7d"]
    assert "moment" not in facts["recording"][0]
    orders = [row["order"] for row in csv.DictReader(io.StringIO(documents["order_spectrum.csv"]))]
    assert orders[:3] == ["0.10", "0.12", "0.14"]


def test_digests_are_those_of_the_bytes(make_baseline: Make) -> None:
    documents = baseline_documents(make_baseline())
    rows = documents[SUMS].splitlines()
    assert all(re.fullmatch(r"[0-9a-f]{64}  [a-z_]+\.(csv|toml)", row) for row in rows)
    listed = {row[66:]: row[:64] for row in rows}
    assert list(listed) == sorted(documents.keys() - {SUMS})
    for name, digest in listed.items():
        assert hashlib.sha256(documents[name].encode()).hexdigest() == digest
    assert sums_text({"a": b""}) == f"{hashlib.sha256().hexdigest()}  a\n"


def test_another_edition_is_refused(make_baseline: Make) -> None:
    documents = baseline_documents(make_baseline())
    documents[FACTS] = documents[FACTS].replace("schema_version = 1", "schema_version = 2")
    with pytest.raises(BaselineError, match="edition 2 of the layout is not known") as caught:
        parsed(documents)
    assert str(caught.value).startswith(str(FOLDER / FACTS))
    assert str(caught.value).endswith("read it with a later one")


@pytest.mark.parametrize(
    ("name", "was", "instead", "says"),
    [
        (FACTS, "schema_version = 1", "", "KeyError: 'schema_version'"),
        (FACTS, "[machine]", "[machine", "TOMLDecodeError"),
        (FACTS, 'status = "known-good"', 'status = "fair"', "'fair' is not a valid Status"),
        (FACTS, "made_at = 2026-03-02T09:30:15+00:00", "made_at = 3", "made_at must be a date"),
        (FACTS, "shaft_frequency_hz = [16.14286, ", "shaft_frequency_hz = [", "ValueError"),
        (FACTS, 'moment = "7d"', 'moment = "9d"', "'9d' is not a valid Moment"),
        (FACTS, 'file = "order_spectrum.csv"', 'file = "x.csv"', "KeyError: 'x.csv'"),
        ("families.csv", "outer-ring", "outer ring", "'outer ring' is not a valid Element"),
        ("levels.csv", "recording_3", "recording_4", "KeyError: 'recording_3'"),
        ("half_octaves.csv", "353.5534", "x", "could not convert string to float: 'x'"),
        ("order_spectrum.csv", "amplitude_m_s2", "amplitude", "KeyError: 'amplitude_m_s2'"),
    ],
)
def test_what_is_no_baseline_is_refused_in_one_sentence(
    make_baseline: Make, name: str, was: str, instead: str, says: str
) -> None:
    documents = baseline_documents(make_baseline())
    assert was in documents[name]
    documents[name] = documents[name].replace(was, instead)
    with pytest.raises(BaselineError) as caught:
        parsed(documents)
    message = str(caught.value)
    assert message.startswith(f"{FOLDER}: these files are no baseline that vibhealth")
    assert says in message
    assert message.endswith("make it again from its recordings")


@pytest.mark.parametrize("name", [FACTS, "levels.csv", "harmonics.csv", "order_spectrum.csv"])
def test_a_file_that_is_not_there_is_named(make_baseline: Make, name: str) -> None:
    documents = baseline_documents(make_baseline())
    del documents[name]
    with pytest.raises(BaselineError, match=f"KeyError: '{name}'"):
        parsed(documents)


def test_bytes_that_are_no_text_are_refused(make_baseline: Make) -> None:
    documents = {n: t.encode() for n, t in baseline_documents(make_baseline()).items()}
    documents["levels.csv"] = b"id\xff\xfe" + documents["levels.csv"]
    with pytest.raises(BaselineError, match="UnicodeDecodeError"):
        parse_baseline(documents, path=FOLDER, digest="d")
