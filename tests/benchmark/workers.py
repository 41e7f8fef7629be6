"""Trials on several processes, in the order of their seeds."""

import sys
import time
from collections.abc import Callable, Iterable
from multiprocessing import get_context
from typing import TypeVar

__all__ = ["run_trials"]

Task = TypeVar("Task")
Result = TypeVar("Result")

REPORT_EVERY_S = 30.0


def run_trials(
    trial: Callable[[Task], Result], tasks: Iterable[Task], *, workers: int = 2
) -> list[Result]:
    """Results of ``trial`` (a function of a module) for every task, in order."""
    todo = list(tasks)
    if workers <= 1:
        return [trial(task) for task in todo]
    results: list[Result] = []
    told = time.monotonic()
    with get_context("spawn").Pool(workers) as pool:
        for result in pool.imap(trial, todo, chunksize=2):
            results.append(result)
            if time.monotonic() - told > REPORT_EVERY_S:
                told = time.monotonic()
                sys.stderr.write(f"{len(results)} of {len(todo)} trials\n")
    return results
