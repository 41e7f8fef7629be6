"""Results of the chain on the open recordings of one data set."""

import os
from collections.abc import Collection
from pathlib import Path
from typing import Any

import pytest

from tests.benchmark import run_benchmark
from tests.benchmark.open_recordings import Row, data_set, healthy_pieces, manifest
from vibhealth.diagnosis import analysis
from vibhealth.model import Recording

__all__ = ["NEEDS_DATA", "Results", "healthy_pieces_of", "results_of"]

Results = list[dict[str, Any]]

FOLDER = os.environ.get("VIBHEALTH_DATA")
NEEDS_DATA = pytest.mark.skipif(
    FOLDER is None, reason="VIBHEALTH_DATA does not name the folder of open recordings"
)


def results_of(name: str, labels: Collection[str] = ()) -> Results:
    """One result per recording of these labels (of any), whole recordings, a few seconds each.

    What would have been found in a recording with a defect is a third of the work and no part
    of what is found: it is left out there, and worked out for the healthy ones.
    """
    folder = Path(FOLDER or "")
    found = []
    for row in manifest(folder):
        if data_set(row) != name or (labels and row["label"] not in labels):
            continue
        with pytest.MonkeyPatch.context() as patch:
            if row["label"] != "healthy":
                patch.setattr(analysis, "detectable_families", lambda *_, **__: ())
            found.append(run_benchmark.result_in((folder, row)))
    return found


def healthy_pieces_of(name: str) -> list[tuple[Row, Recording]]:
    """Pieces of 400 turns or more of the healthy recordings; a shorter one is one piece."""
    return [
        (row, piece) for row, piece in healthy_pieces(Path(FOLDER or "")) if data_set(row) == name
    ]
