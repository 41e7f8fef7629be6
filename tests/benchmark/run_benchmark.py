"""Run the whole chain over open recordings and print what it named, as JSON.

    python tests/benchmark/run_benchmark.py [FOLDER] > result.json

FOLDER (default: the environment variable VIBHEALTH_DATA) holds ``manifest.csv`` and the
recordings of the bearing data center of Case Western Reserve University, of the Society for
Machinery Failure Prevention Technology and of the University of Electronic Science and
Technology of China; none of them is part of this project. ``published_grade`` is the best
grade of W. A. Smith and R. B. Randall, MSSP 64-65 (2015) 100-131, table B2.
"""

import json
import os
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.benchmark.counting import confusion
from tests.benchmark.open_recordings import (
    ELEMENT_OF_LABEL,
    PIECE_TURNS,
    Row,
    card_of,
    data_set,
    healthy_pieces,
    manifest,
    recording_of,
)
from vibhealth.diagnosis.analysis import analyze_recording, largest_present
from vibhealth.model import FamilyFinding, RecordingAnalysis

Result = dict[str, Any]


def judged(row: Row, named: FamilyFinding | None) -> str:
    """``right``, ``wrong`` or ``none``: what the largest present family says of the label."""
    wanted = ELEMENT_OF_LABEL[row["label"]]
    if named is None:
        return "right" if wanted is None else "none"
    return "right" if named.element is wanted else "wrong"


def wrongly_held(row: Row, families: Iterable[FamilyFinding]) -> list[str]:
    """Elements at hold that are neither the labelled one nor said to be confusable with it."""
    wanted = ELEMENT_OF_LABEL[row["label"]]
    return sorted(
        family.element.value
        for family in families
        if family.result == "hold"
        and family.element is not wanted
        and (wanted is None or wanted.value not in family.ambiguous_with)
    )


def result_of(row: Row, analysis: RecordingAnalysis, seconds: float) -> Result:
    """One line of the benchmark."""
    named = largest_present(analysis.families)
    shown = named or max(analysis.families, key=lambda f: f.depth_whitened, default=None)
    result: Result = {
        "file": row["file"],
        "label": row["label"],
        "published_grade": row["published_grade"] or None,
        "result": judged(row, named),
        "named": None if named is None else named.element.value,
        "shaft_speed_rpm": None
        if analysis.speed.shaft_frequency_hz is None
        else round(60 * analysis.speed.shaft_frequency_hz, 2),
        "speed_source": analysis.speed.source,
        "not_judged": analysis.families_not_judged,
        "held": sorted(f.element.value for f in analysis.families if f.result == "hold"),
        "held_wrongly": wrongly_held(row, analysis.families),
        "seconds": round(seconds, 2),
        "recorded_s": round(analysis.recording.duration_s, 3),
    }
    if shown is not None:
        result["largest_family"] = {
            "element": shown.element.value,
            "order": round(shown.order, 4),
            "false_alarm_probability": shown.false_alarm_probability,
            "depth_whitened": round(shown.depth_whitened, 4),
            "depth": round(shown.depth, 4),
            "impact_m_s2": None if shown.impact_m_s2 is None else round(shown.impact_m_s2, 3),
        }
    return result


def result_in(task: tuple[Path, Row]) -> Result:
    """Result of one row of the manifest in a folder."""
    folder, row = task
    recording = recording_of(folder, row)
    start, start_cpu = time.perf_counter(), time.process_time()
    analysis = analyze_recording(recording, card=card_of(row))
    cpu_seconds = time.process_time() - start_cpu
    result = result_of(row, analysis, time.perf_counter() - start)
    return result | {"cpu_seconds": round(cpu_seconds, 2)}


def results(folder: Path) -> Iterator[Result]:
    """Results of the whole manifest, one at a time."""
    return map(result_in, ((folder, row) for row in manifest(folder)))


def summary(found: Iterable[Result]) -> dict[str, dict[str, int]]:
    """Counts of right, wrong and none by data set and published grade."""
    counts: defaultdict[str, Counter[str]] = defaultdict(Counter)
    for result in found:
        group = result["published_grade"] or result["label"]
        counts[f"{data_set(result)} {group}"][result["result"]] += 1
    return {group: dict(counter) for group, counter in sorted(counts.items())}


def confusions(found: Iterable[Result]) -> dict[str, dict[str, dict[str, int]]]:
    """Label against named element, by data set and published grade."""
    pairs: defaultdict[str, list[tuple[str, str]]] = defaultdict(list)
    for result in found:
        group = f"{data_set(result)} {result['published_grade'] or 'ungraded'}"
        pairs[group].append((result["label"], result["named"] or "none"))
    return {group: confusion(rows) for group, rows in sorted(pairs.items())}


def times(found: Iterable[Result]) -> dict[str, float]:
    """How long the analyses took, by the clock and of the processor alone."""
    results = list(found)
    seconds = sum(result["seconds"] for result in results)
    cpu_seconds = sum(result["cpu_seconds"] for result in results)
    minutes = sum(result["recorded_s"] for result in results) / 60
    return {
        "analysis_seconds": round(seconds, 1),
        "analysis_cpu_seconds": round(cpu_seconds, 1),
        "longest_seconds": max(result["seconds"] for result in results),
        "recorded_minutes": round(minutes, 2),
        "seconds_per_recorded_minute": round(seconds / minutes, 2),
        "cpu_seconds_per_recorded_minute": round(cpu_seconds / minutes, 2),
    }


def false_alarms(pieces: Iterable[tuple[Row, RecordingAnalysis]]) -> dict[str, dict[str, Any]]:
    """How many pieces of each healthy recording are significant, of watch size, at hold."""
    counts: defaultdict[str, Counter[str]] = defaultdict(Counter)
    turns: dict[str, float] = {}
    for row, analysis in pieces:
        limit = card_of(row).limits.value("family_false_alarm_probability")
        families = analysis.families
        results = {family.result.value for family in families}
        counts[row["file"]].update(
            pieces=1,
            not_judged=int(bool(analysis.families_not_judged)),
            significant=int(any(f.false_alarm_probability <= limit for f in families)),
            watch_size=int(bool(results & {"watch", "hold"})),
            hold=int("hold" in results),
        )
        turns[row["file"]] = analysis.recording.duration_s * float(row["shaft_speed_rpm"]) / 60
    return {
        file: {**counter, "turns_of_a_piece": round(turns[file], 1)}
        for file, counter in sorted(counts.items())
    }


def main(arguments: list[str]) -> int:
    """Print the results; exit code 2 where there is no data."""
    name = arguments[0] if arguments else os.environ.get("VIBHEALTH_DATA")
    if name is None:
        sys.stderr.write("give the folder of open recordings, or set VIBHEALTH_DATA\n")
        return 2
    found = []
    for result in results(Path(name)):
        sys.stderr.write(f"{result['file']}: {result['result']}\n")
        found.append(result)
    pieces = (
        (row, analyze_recording(piece, card=card_of(row)))
        for row, piece in healthy_pieces(Path(name))
    )
    figures = {
        "summary": summary(found),
        "confusion": confusions(found),
        "false_alarms": {
            "least_turns_of_a_piece": PIECE_TURNS,
            "recordings": false_alarms(pieces),
        },
        "held_wrongly": {
            result["file"]: result["held_wrongly"] for result in found if result["held_wrongly"]
        },
        "times": times(found),
        "recordings": found,
    }
    json.dump(figures, sys.stdout, indent=1)
    sys.stdout.write("\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
