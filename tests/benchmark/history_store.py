"""The history under load: size, writers killed at random moments, several writers at once.

The cost of adding and reading at two sizes of the file, whether what was acknowledged survives
``kill -9``, and whether writers lose each other's rows.
"""

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Collection, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, TextIO

from vibhealth.model import (
    CriterionResult,
    Descriptor,
    Element,
    HistoryFamily,
    HistoryRecording,
)
from vibhealth.store import History, check_integrity

__all__ = ["history_store", "killed_writers", "sample_recording", "several_writers"]

ROOT = Path(__file__).parents[2]
START = datetime(2020, 1, 1, tzinfo=UTC)
DESCRIPTORS = 12
FAMILIES = 8
SERIES_MACHINE = "screen 0"  # 1 % of the recordings
LONG_MACHINE = "screen long"  # 20 %
LEVEL = "bearing-band-block-median"  # what trends are made of
SAME_MACHINE, SAME = "screen same", 100  # as many in a file of any size
BATCH = 2000

KILL_BATCH = 3
MOST_ROWS = 100_000
PAUSE_S = 0.003  # between commits, as a waiting writer only looks now and then

CODE = """
import sys
sys.path.insert(0, {root!r})
from tests.benchmark.history_store import fork_writers, write
{call}
"""


def sample_recording(number: int, machine: str = SERIES_MACHINE) -> HistoryRecording:
    """A recording of the usual amount of content; equal numbers give equal recordings."""
    draw = random.Random(number)  # noqa: S311 - no secret
    return HistoryRecording(
        machine=machine,
        sha256=f"{number:064x}",
        channel=number % 3,
        path=f"visits/{number // 4}/drive-end.wav",
        point=("drive-end", "free-end")[number % 2],
        direction="horizontal",
        stage="as-found",
        moment=None,
        recorded_at=START + timedelta(hours=number),
        running_hours_h=number * 0.75,
        load="loaded",
        temperature_c=None if number % 5 else 41.5,
        shaft_frequency_hz=14.0 + draw.random(),
        sampling_rate_hz=51200.0,
        duration_s=20.0,
        unit="m/s2",
        unusable_because="",
        masked="",
        descriptors=tuple(_descriptor(place, draw.random()) for place in range(DESCRIPTORS)),
        families=tuple(_family(place, draw.random()) for place in range(FAMILIES)),
        card_sha256="c" * 64,
        tool_version="0.1.0",
    )


def _descriptor(place: int, value: float) -> Descriptor:
    band = None if place % 2 else (10.0 * (place + 1), 1000.0 * (place + 1))
    return Descriptor(
        id=f"level-{place}" if place else LEVEL,
        title=f"Level in band {place}",
        value=value,
        unit="m/s2",
        band_hz=band,
    )


def _family(place: int, size: float) -> HistoryFamily:
    return HistoryFamily(
        bearing=("drive-end", "free-end")[place // 4],
        element=tuple(Element)[place % 4],
        order=3.0 + place,
        frequency_hz=14.0 * (3.0 + place),
        false_alarm_probability=size**6,
        depth=size / 10,
        depth_whitened=size / 5,
        depth_interval=(size / 20, size / 5) if place % 2 else None,
        impact_m_s2=size * 3,
        present=size > 0.9,
        blind_spot=False,
        result=CriterionResult.WATCH if size > 0.9 else CriterionResult.PASS,
    )


def history_store(
    *,
    trials: int = 200,
    first_seed: int = 1,
    workers: int = 2,
    sizes: Collection[int] = (1_000, 100_000),
) -> dict[str, Any]:
    """Figures of all parts; ``trials`` is the number of kills, ``workers`` of writers then."""
    with TemporaryDirectory() as folder:
        by_size = {str(size): of_size(Path(folder) / f"{size}.sqlite", size) for size in sizes}
        small, large = (by_size[str(size)] for size in (min(sizes), max(sizes)))
        ratios = {
            name: round(large[name] / small[name], 2)
            for name in ("add_one_s", "same_series_s", "same_trends_drawn_s")
        }
        return {
            "sizes": by_size,
            "ratio_largest_to_smallest": ratios,
            "kills": killed_writers(
                Path(folder) / "kills.sqlite", kills=trials, seed=first_seed, at_once=workers
            ),
            "writers": several_writers(Path(folder) / "writers.sqlite", writers=8, each=40),
        }


def of_size(path: Path, size: int) -> dict[str, Any]:
    """Seconds (best and worst of several) with ``size`` recordings in the file."""
    begun = time.perf_counter()
    with History.open(path, create=True) as history:
        for batch in _batches(size):
            history.add_recordings(batch)
        built_s = time.perf_counter() - begun
        history.add_recordings(sample_recording(size + k, SAME_MACHINE) for k in range(SAME))
        ids = {"level-3"}
        own, long = SERIES_MACHINE, LONG_MACHINE
        figures: dict[str, Any] = {
            "recordings": size,
            "file_mb": round(path.stat().st_size / 1e6, 1),
            "built_s": round(built_s, 1),
        }
        new = iter([sample_recording(2 * size + k, "screen new") for k in range(9)])
        adds = [_seconds(lambda: history.add_recording(next(new))) for _ in range(9)]
        figures |= {"add_one_s": _median(adds), "add_one_worst_s": max(adds)}
        timed: dict[str, Callable[[], object]] = {
            "same_series_s": lambda: history.recordings(SAME_MACHINE),
            "one_percent_one_descriptor_s": lambda: history.recordings(
                own, descriptors=ids, families=False
            ),
            "one_percent_all_s": lambda: history.recordings(own),
            "twenty_percent_one_descriptor_s": lambda: history.recordings(
                long, descriptors=ids, families=False
            ),
            "twenty_percent_one_descriptor_and_families_s": lambda: history.recordings(
                long, descriptors=ids
            ),
            "twenty_percent_all_s": lambda: history.recordings(long),
        }
        for name, read in timed.items():
            figures[name] = _median([_seconds(read) for _ in range(5)])
        figures["check_s"] = _seconds(lambda: check_integrity(history))
    figures["open_s"] = _seconds(lambda: History.open(path).close())
    from tests.benchmark.trend_drawing import draw_trends  # writers have no need of pictures

    for name, machine in (("same", SAME_MACHINE), ("twenty_percent", LONG_MACHINE)):
        told = draw_trends(path, machine)
        figures |= {f"{name}_{key}": value for key, value in told.items()}
    return figures


def _batches(size: int) -> Iterator[list[HistoryRecording]]:
    """A fifth of one machine, one in a hundred of another, the rest of 79 others, mixed."""
    for start in range(0, size, BATCH):
        numbers = range(start, min(size, start + BATCH))
        yield [sample_recording(number, _machine(number % 100)) for number in numbers]


def _machine(share: int) -> str:
    return LONG_MACHINE if share >= 80 else f"screen {share}"


def _seconds(action: Callable[[], object]) -> float:
    begun = time.perf_counter()
    action()
    return round(time.perf_counter() - begun, 4)


def _median(values: list[float]) -> float:
    return sorted(values)[len(values) // 2]


def write(
    path: str, machine: str, first: int, count: int, batch: int, told: TextIO | None = None
) -> None:
    """Add recordings in batches; tell the number of the last one after each commit."""
    out = told or sys.stdout
    with History.open(path, create=True) as history:
        for start in range(first, first + count, batch):
            numbers = range(start, min(first + count, start + batch))
            history.add_recordings(sample_recording(number, machine) for number in numbers)
            out.write(f"{numbers[-1]}\n")
            out.flush()
            time.sleep(PAUSE_S)


def fork_writers(path: str) -> None:
    """For each machine on a line of the input, a process of its own that writes until killed.

    It tells its own id, then what was committed, in a file beside ``path``. Forked, as it takes
    longer to load the package than to be killed.
    """
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # nobody waits for them
    for line in sys.stdin:
        machine = line.strip()
        if os.fork() == 0:
            with Path(f"{path}.{machine}").open("w", encoding="ascii") as told:
                told.write(f"{os.getpid()}\n")
                write(path, machine, 0, MOST_ROWS, KILL_BATCH, told)
            os._exit(0)


def _started(
    call: str, *, stdin: int | None = None, stdout: int | None = None
) -> subprocess.Popen[str]:
    code = CODE.format(root=str(ROOT), call=call)
    return subprocess.Popen([sys.executable, "-c", code], text=True, stdin=stdin, stdout=stdout)


def killed_writers(
    path: Path, *, kills: int, seed: int = 1, at_once: int = 2, latest_s: float = 0.25
) -> dict[str, int]:
    """Kill writers at random moments after their first commit; count what went wrong.

    ``lost``: rows whose commit was acknowledged and that are not there. ``unsound``: kills
    after which the check found anything, half a batch included. Needs a system that forks.
    """
    draw = random.Random(seed)  # noqa: S311 - no secret
    History.open(path, create=True).close()
    told = dict.fromkeys(
        ("kills", "not_opened", "lost", "unsound", "acknowledged", "hot_journals"), 0
    )
    nest = _started(f"fork_writers({str(path)!r})", stdin=subprocess.PIPE)
    while told["kills"] < kills:
        wave = range(told["kills"], min(kills, told["kills"] + at_once))
        for number in wave:
            _say(nest, f"screen-{number}")
        acknowledged = {
            machine: _killed(Path(f"{path}.{machine}"), draw.random() * latest_s)
            for machine in (f"screen-{number}" for number in wave)
        }
        told["hot_journals"] += path.with_name(path.name + "-journal").exists()
        told["kills"] += len(wave)
        check = told["kills"] % 20 < len(wave) or told["kills"] == kills
        _judge(path, acknowledged, told, check=check)
    nest.communicate()
    return told


def _say(process: subprocess.Popen[str], line: str) -> None:
    if process.stdin is not None:
        process.stdin.write(f"{line}\n")
        process.stdin.flush()


def _killed(told: Path, after_s: float) -> int:
    """Kill one writer, by the id it told; returns the last number it acknowledged."""
    deadline = time.monotonic() + 60.0
    while not told.exists() or told.read_bytes().count(b"\n") < 2:
        if time.monotonic() > deadline:
            msg = f"no writer acknowledged anything in {told}"
            raise TimeoutError(msg)
        time.sleep(0.005)
    process = int(told.read_text("ascii").split("\n")[0])
    time.sleep(after_s)
    os.kill(process, signal.SIGKILL)
    while _is_there(process):
        time.sleep(0.001)
    return int(told.read_text("ascii").split("\n")[-2])  # of whole lines


def _is_there(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True


def _judge(path: Path, acknowledged: dict[str, int], told: dict[str, int], *, check: bool) -> None:
    try:
        with History.open(path) as history:
            for machine, last in acknowledged.items():
                found = history.recordings(machine)
                expected = [f"{number:064x}" for number in range(last + 1)]
                told["acknowledged"] += len(expected)
                told["lost"] += len(set(expected) - {recording.sha256 for recording in found})
                told["unsound"] += len(found) % KILL_BATCH != 0
                told["unsound"] += any(not _is_whole(recording) for recording in found)
            if check:
                told["unsound"] += not check_integrity(history).is_sound
    except (OSError, ValueError):
        told["not_opened"] += 1


def _is_whole(recording: HistoryRecording) -> bool:
    return len(recording.descriptors) == DESCRIPTORS and len(recording.families) == FAMILIES


def several_writers(path: Path, *, writers: int, each: int) -> dict[str, Any]:
    """Start ``writers`` processes on a file that none of them finds; count what they left."""
    begun = time.perf_counter()
    running = [
        _started(
            f"write({str(path)!r}, 'screen {k}', {k * each}, {each}, 1)", stdout=subprocess.PIPE
        )
        for k in range(writers)
    ]
    for process in running:
        process.communicate()
    codes = [process.returncode for process in running]
    with History.open(path) as history:
        found = [len(history.recordings(f"screen {k}")) for k in range(writers)]
        is_sound = check_integrity(history).is_sound
    return {
        "writers": writers,
        "rows_expected": writers * each,
        "rows_found": sum(found),
        "failed": sum(code != 0 for code in codes),
        "is_sound": is_sound,
        "seconds": round(time.perf_counter() - begun, 1),
    }
