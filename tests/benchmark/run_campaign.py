"""Run a campaign of simulated or seeded recordings and print its figures as JSON.

    python tests/benchmark/run_campaign.py NAME [--trials N] [--first-seed S] [--workers W]

Each rate comes with its exact 95 % interval. `kinematics` takes ``--cell LOAD:ELEMENT``
(several times, if wanted) to run a part alone.
"""

import argparse
import os
import sys
import time
from collections.abc import Callable
from inspect import signature
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from tests.benchmark.against_baseline import against_baseline
from tests.benchmark.compact_json import compact
from tests.benchmark.degradation import degradation
from tests.benchmark.disturbances import disturbances
from tests.benchmark.false_alarms import false_alarms
from tests.benchmark.history_store import history_store
from tests.benchmark.kinematics import cell_of, kinematics
from tests.benchmark.life_to_failure import life_to_failure
from tests.benchmark.marks import marks
from tests.benchmark.open_baseline import open_baseline
from tests.benchmark.paired_evidence import motion, speed_variation
from tests.benchmark.rebuilds import rebuilds
from tests.benchmark.recording_faults import recording_faults
from tests.benchmark.seeded_depth import seeded_depth

CAMPAIGNS: dict[str, Callable[..., dict[str, Any]]] = {
    "against-baseline": against_baseline,
    "degradation": degradation,
    "disturbances": disturbances,
    "false-alarms": false_alarms,
    "history-store": history_store,
    "kinematics": kinematics,
    "life-to-failure": life_to_failure,
    "marks": marks,
    "motion": motion,
    "open-baseline": open_baseline,
    "rebuilds": rebuilds,
    "recording-faults": recording_faults,
    "seeded-depth": seeded_depth,
    "speed-variation": speed_variation,
}

OPTIONS = ("trials", "first_seed", "workers", "turns", "factor", "ring_share")


def parsed(arguments: list[str]) -> argparse.Namespace:
    """Options of the command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("name", choices=sorted(CAMPAIGNS))
    parser.add_argument("--trials", type=int, help="per cell or kind; default: the campaign's own")
    parser.add_argument("--first-seed", "--seed", type=int, help="of consecutive seeds, default 1")
    parser.add_argument("--workers", type=int, default=2, help="processes")
    parser.add_argument("--turns", type=float, help="length of each recording in shaft turns")
    parser.add_argument("--cell", action="append", type=cell_of, help="kinematics: LOAD:ELEMENT")
    parser.add_argument("--factor", type=float, help="impact over the detectable one")
    parser.add_argument("--ring-share", type=float, help="seeded-depth: place in the band, 0 to 1")
    parser.add_argument("--kind", action="append", help="rebuilds: a mistake, or none")
    parser.add_argument(
        "--drawn", action="store_true", help="rebuilds: of machines drawn at random"
    )
    parser.add_argument(
        "--compared", action="store_true", help="rebuilds: with a known-good baseline"
    )
    options = parser.parse_args(arguments)
    unknown = sorted(set(_settings(options)) - set(signature(CAMPAIGNS[options.name]).parameters))
    if unknown:
        parser.error(f"campaign {options.name} has no option {', '.join(unknown)}")
    return options


def _settings(options: argparse.Namespace) -> dict[str, Any]:
    """What was given, under the names of the campaigns' parameters."""
    given = {name: getattr(options, name) for name in OPTIONS}
    if options.cell:
        given["cells"] = tuple(options.cell)
    if options.drawn:
        given["drawn"] = True
    if options.compared:
        given["compared"] = True
    if options.kind:
        given["kinds"] = tuple(options.kind)
    return {name: value for name, value in given.items() if value is not None}


def main(arguments: list[str]) -> int:
    """Print the figures of one campaign."""
    options = parsed(arguments)
    start = time.perf_counter()
    figures = CAMPAIGNS[options.name](**_settings(options))
    head = {
        "campaign": options.name,
        "first_seed": options.first_seed or 1,
        "seconds": round(time.perf_counter() - start, 1),
    }
    sys.stdout.write(compact(head | figures) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
