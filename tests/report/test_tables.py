"""CSV tables: every value comes back, units in the header, gaps empty."""

import csv
from dataclasses import replace
from io import StringIO

import numpy as np
import pytest

from vibhealth.model import RecordingAnalysis
from vibhealth.report import analysis_csv

TEN_DIGITS = 5e-10  # half a unit of the tenth significant digit, relative


def rows(text: str) -> list[list[str]]:
    return list(csv.reader(StringIO(text)))


def test_files_and_headers(spalled: RecordingAnalysis) -> None:
    tables = analysis_csv(spalled)
    heads = {name: text.splitlines()[0] for name, text in tables.items()}
    assert heads["spectrum-1-acceleration.csv"] == "frequency_hz,order,acceleration [m/s2]"
    assert heads["waveform.csv"] == "time_s,acceleration [m/s2]"
    assert heads["envelope-1-found.csv"] == (
        'order,"modulation depth [1] (2000 to 4000 Hz, whitened, limited)",local floor [1]'
    )
    assert set(heads) == {
        "quality.csv", "descriptors.csv", "families.csv", "sensitivity.csv", "motion.csv",
        "waveform.csv", "spectrum-1-acceleration.csv", "envelope-1-found.csv",
        "envelope-2-card.csv",
    }  # fmt: skip


def test_curves_come_back(spalled: RecordingAnalysis) -> None:
    tables = analysis_csv(spalled)
    curve = spalled.envelopes[1]
    read = np.array(rows(tables["envelope-2-card.csv"])[1:], dtype=np.float64)
    np.testing.assert_allclose(
        read, np.column_stack([curve.order, curve.depth, curve.floor]), rtol=TEN_DIGITS
    )
    spectrum = spalled.spectra[0]
    read = np.array(rows(tables["spectrum-1-acceleration.csv"])[1:], dtype=np.float64)
    assert spectrum.order is not None
    np.testing.assert_allclose(
        read,
        np.column_stack([spectrum.frequency_hz, spectrum.order, spectrum.values]),
        rtol=TEN_DIGITS,
    )
    read = np.array(rows(tables["waveform.csv"])[1:], dtype=np.float64)
    np.testing.assert_allclose(read[:, 1], spalled.waveform, rtol=TEN_DIGITS)


def test_rows_and_gaps(spalled: RecordingAnalysis, silent: RecordingAnalysis) -> None:
    tables = analysis_csv(spalled)
    families = [dict(zip(rows(tables["families.csv"])[0], row, strict=True))
                for row in rows(tables["families.csv"])[1:]]  # fmt: skip
    assert families[0]["element"] == "outer-ring"
    assert float(families[0]["impact_m_s2"]) == pytest.approx(2.016)
    assert (families[0]["present"], families[1]["present"]) == ("yes", "no")
    assert families[2]["ambiguous_with"] == "outer-ring"
    levels = rows(tables["descriptors.csv"])
    assert levels[1] == ["rms", "rms, whole recording", "22.3", "m/s2", "", ""]
    assert levels[2][4:] == ["1000", "10000"]
    assert levels[5][2] == ""  # not measured
    assert rows(tables["motion.csv"])[1:3] == [
        ["0.5", "0.06", "m/s2", "0.0019"],
        ["1", "31.4", "m/s2", "1"],
    ]
    bare = analysis_csv(silent)
    assert bare["spectrum-1-acceleration.csv"].startswith("frequency_hz,acceleration [m/s2]\n")
    assert bare["families.csv"].count("\n") == 1
    assert bare["motion.csv"] == "order,amplitude,unit,relative_to_first\n"


def test_names_with_commas_and_quotes_come_back(spalled: RecordingAnalysis) -> None:
    odd = replace(spalled.families[0], bearing='upper, "left"\nside')
    text = analysis_csv(replace(spalled, families=(odd,)))["families.csv"]
    assert rows(text)[1][0] == odd.bearing


def test_the_same_text_twice(spalled: RecordingAnalysis) -> None:
    assert analysis_csv(spalled) == analysis_csv(spalled)
