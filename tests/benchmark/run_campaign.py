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
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from tests.benchmark.compact_json import compact
from tests.benchmark.false_alarms import false_alarms
from tests.benchmark.kinematics import cell_of, kinematics

CAMPAIGNS: dict[str, Callable[..., dict[str, Any]]] = {
    "false-alarms": false_alarms,
    "kinematics": kinematics,
}


def parsed(arguments: list[str]) -> argparse.Namespace:
    """Options of the command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("name", choices=sorted(CAMPAIGNS))
    parser.add_argument("--trials", type=int, help="per cell or kind; default: the campaign's own")
    parser.add_argument("--first-seed", "--seed", type=int, default=1, help="of consecutive seeds")
    parser.add_argument("--workers", type=int, default=2, help="processes")
    parser.add_argument("--turns", type=float, help="length of each recording in shaft turns")
    parser.add_argument("--cell", action="append", type=cell_of, help="kinematics: LOAD:ELEMENT")
    parser.add_argument("--factor", type=float, help="kinematics: impact over the detectable one")
    return parser.parse_args(arguments)


def main(arguments: list[str]) -> int:
    """Print the figures of one campaign."""
    options = parsed(arguments)
    settings: dict[str, Any] = {"first_seed": options.first_seed, "workers": options.workers}
    for name in ("trials", "turns", "factor"):
        if getattr(options, name) is not None:
            settings[name] = getattr(options, name)
    if options.cell:
        settings["cells"] = tuple(options.cell)
    start = time.perf_counter()
    figures = CAMPAIGNS[options.name](**settings)
    head = {
        "campaign": options.name,
        "first_seed": options.first_seed,
        "seconds": round(time.perf_counter() - start, 1),
    }
    sys.stdout.write(compact(head | figures) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
