"""Settings that must be in force before numpy is loaded, and the order of the files."""

import os

# Linear algebra threads of several test processes wait for each other on a small machine.
for _name in ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import pytest

# What takes longest is started first, so that at the end no process is left alone with one file.
LONGEST_FIRST = (
    "test_open_recordings.py",
    "test_open_recordings_elsewhere.py",
    "test_demo.py",
    "test_campaigns.py",
    "test_end_to_end.py",
    "test_examples.py",
    "test_assess_job.py",
    "test_guard_beside_a_bearing.py",
    "test_commands.py",
    "test_analysis.py",
    "test_sensitivity.py",
    "test_killed.py",
)


def pytest_configure(config: pytest.Config) -> None:
    """Files with the most tests would be started first; those that take longest have few."""
    if hasattr(config.option, "loadscopereorder"):  # of pytest-xdist, from 3.7 on
        config.option.loadscopereorder = False


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Sort by file only: tests of a file stay in their order."""
    rank = {name: number for number, name in enumerate(LONGEST_FIRST)}
    items.sort(key=lambda item: rank.get(item.path.name, len(rank)))
