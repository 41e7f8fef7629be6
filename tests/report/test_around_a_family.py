"""What stands around a family (intervals, pattern, cage speed, disturbance, mask) is told alike."""

from dataclasses import replace
from html import unescape

import jsonschema

from vibhealth.model import (
    CageSpeed,
    CriterionResult,
    Disturbance,
    Element,
    RecordingAnalysis,
)
from vibhealth.report import (
    analysis_html,
    analysis_text,
    analysis_view,
    recording_dict,
    schema,
)


def evidenced(analysis: RecordingAnalysis) -> RecordingAnalysis:
    """With intervals, pattern, cage speed, disturbance and mask."""
    family = replace(
        analysis.families[0],
        depth_interval=(0.7512, 0.947),
        impact_interval_m_s2=(1.61, 2.49),
        pattern="marks-at-every-element",
        evidence=88.25,
    )
    cage = CageSpeed(
        bearing="up\nper",
        order=0.41621,
        low=0.41594,
        high=0.41649,
        slip_percent=0.58,
        elements=(Element.OUTER_RING, Element.ROLLING_ELEMENT),
        detail="two families agree",
    )
    stones = Disturbance(
        id="material-strikes", title="Material strikes", value=12.0, unit="1/s",
        detail="12 hard hits per second", advice="Run empty.",
    )  # fmt: skip
    return replace(
        analysis,
        families=(family, *analysis.families[1:]),
        cage_speeds=(cage,),
        disturbances=(stones,),
        masked="Masked: falling material hides the bearing",
    )


SAID = (
    (
        "Bearing up\\nper: cage turns at 0.4162x (0.4159 to 0.4165), slip +0.6 %, from outer ring and "
        "rolling element; two families agree."
    ),
    "Material strikes: 12 hard hits per second. Run empty.",
    "Masked: falling material hides the bearing.",
    "modulation depth 0.84 (0.75 to 0.95), whitened",
    "strikes of about 2 m/s² (1.6 to 2.5)",
    (
        "marks at every element spacing (standing or knocked while still: brinelling), not a single "
        "spall: ask how it was stored and transported"
    ),
)


def test_what_stands_around_a_family_is_in_terminal_and_html(spalled: RecordingAnalysis) -> None:
    view = analysis_view(evidenced(spalled))
    text = " ".join(analysis_text(view, width=400).split())
    html = " ".join(
        unescape(analysis_html(view, (), generated_at="2031-03-04", version="0.0.0")).split()
    )
    for words in SAID:
        assert words in text
        assert words in html


def test_of_a_family_that_passes_no_size_is_told(spalled: RecordingAnalysis) -> None:
    whole = evidenced(spalled)
    passed = replace(whole.families[0], result=CriterionResult.PASS)
    remarks = analysis_view(replace(whole, families=(passed,))).families[0].remarks
    assert "modulation depth" in analysis_view(whole).families[0].remarks
    for words in ("modulation depth", "strikes", "marks"):
        assert words not in remarks


def test_what_stands_around_a_family_is_in_the_document(spalled: RecordingAnalysis) -> None:
    document = recording_dict(evidenced(spalled))
    jsonschema.Draft202012Validator(schema("recording")).validate(document)
    family = document["families"][0]
    assert family["depth_interval"] == [0.7512, 0.947]
    assert family["impact_interval_m_s2"] == [1.61, 2.49]
    assert (family["pattern"], family["evidence"]) == ("marks-at-every-element", 88.25)
    assert document["families"][1]["depth_interval"] is None
    assert document["cage_speeds"][0]["elements"] == ["outer-ring", "rolling-element"]
    assert document["cage_speeds"][0]["slip_percent"] == 0.58
    assert document["disturbances"][0]["advice"] == "Run empty."
    assert document["masked"] == "Masked: falling material hides the bearing"
    assert document["sensitivity"][0]["n_trials"] == 0
    assert "would have been found (95 of 100)" in document["sensitivity"][0]["sentence"]
    bad = recording_dict(spalled) | {"masked": None}
    assert not jsonschema.Draft202012Validator(schema("recording")).is_valid(bad)
