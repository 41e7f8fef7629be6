"""A real rig against its own baseline: healthy, inner ring, outer ring, ball.

Open data set of the University of Electronic Science and Technology of China (UESTC), one rig,
one sensor, about a minute of each state; never part of this project. The first half of the
healthy recording is the baseline, the second halves of all four are compared with it.
"""

import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from tests.benchmark.open_baseline import Half, baseline_of, compared, half_of, is_outside
from vibhealth.diagnosis import analysis
from vibhealth.model import Criterion, CriterionResult

Compared = dict[str, tuple[Criterion, ...]]


@pytest.fixture(scope="module")
def halves() -> Compared:
    folder = Path(os.environ.get("VIBHEALTH_DATA", ""))
    if not (folder / "manifest.csv").is_file():
        pytest.skip("VIBHEALTH_DATA names no folder with manifest.csv: open recordings not here")
    parts = [Half(letter="N", half=0), *(Half(letter=letter, half=1) for letter in "NIOB")]
    healthy = half_of(folder, parts[1])
    # How small a fault would have been seen beside one is a third of the work and decides nothing.
    with pytest.MonkeyPatch.context() as patch, ThreadPoolExecutor(max_workers=2) as pool:
        patch.setattr(analysis, "detectable_families", lambda *_, **__: ())
        good, *faulty = pool.map(lambda part: half_of(folder, part), [parts[0], *parts[2:]])
    others = [healthy, *faulty]
    found, card = good
    baseline = baseline_of([found], card)
    return {
        part.letter: compared(other, card, baseline)
        for part, (other, _) in zip(parts[1:], others, strict=True)
    }


def test_the_healthy_rig_is_within_the_limits_of_its_own_baseline(halves: Compared) -> None:
    assert not is_outside(halves["N"]), [
        (c.id, c.reason) for c in halves["N"] if c.result is not CriterionResult.PASS
    ]
    assert {"bearing-band-over-baseline", "lines-over-baseline"} <= {c.id for c in halves["N"]}


@pytest.mark.parametrize(
    ("letter", "family"), [("I", "inner-ring"), ("O", "outer-ring"), ("B", "cage")]
)
def test_every_fault_is_outside_and_its_family_has_grown(
    halves: Compared, letter: str, family: str
) -> None:
    """The rig's card gives no order for a ball; the family that its defect shows is the cage's."""
    held = {c.id: c for c in halves[letter] if c.result is CriterionResult.HOLD}
    found = held[f"family-test bearing-{family}"]
    ratio = float(found.detail.split(" times the ")[0].rsplit(" ", 1)[1])
    assert ratio > 2.5
    assert "bearing-band-over-baseline" in held
