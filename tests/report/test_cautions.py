"""The cautions that no report may lack."""

import pytest

from vibhealth.report import CAUTIONS


@pytest.mark.parametrize(
    "words",
    [
        ("lock out", "tag", "try"),
        ("guard off", "record"),
        ("stand clear", "first start"),
        ("heavy", "lifting gear"),
        ("oil", "hot"),
        ("pass", "does not certify"),
        ("site rules", "local codes", "licensed trades"),
        ("licensed electrician",),
    ],
)
def test_each_caution_stands_in_one_entry(words: tuple[str, ...]) -> None:
    assert [c for c in CAUTIONS if all(word in c.lower() for word in words)]
