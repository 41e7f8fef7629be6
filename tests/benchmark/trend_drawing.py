"""How long it takes from the file of a history to the picture of a trend."""

import time
from pathlib import Path
from typing import Any

from vibhealth.card import MachineCard
from vibhealth.cli._past import trend_past_of
from vibhealth.outlook.trend import machine_trends
from vibhealth.report.trend_figure import trend_image

__all__ = ["CARD", "draw_trends"]

BEARING = {
    "element_count": 17, "element_diameter_mm": 26.0, "pitch_diameter_mm": 160.0,
    "load_case": "rotating",
}  # fmt: skip
CARD = MachineCard.model_validate(
    {
        "schema_version": 1,
        "machine": {"id": "screen", "name": "Screen", "nominal_speed_rpm": 870.0},
        "bearing": [{"name": name, **BEARING} for name in ("drive-end", "free-end")],
        "sensor": [{"name": "A1", "unit": "m/s2"}],
        "point": [
            {"name": name, "direction": "x", "sensor": "A1", "channel": number}
            for number, name in enumerate(("drive-end", "free-end"), start=1)
        ],
    }
)


def draw_trends(path: Path, machine: str) -> dict[str, Any]:
    """Seconds to read, to work out all trends of a machine, and to draw the first of them."""
    began = time.perf_counter()
    past = trend_past_of(path, machine)
    read = time.perf_counter()
    trends = machine_trends(past.recordings, CARD, past.rebuilds)
    known = time.perf_counter()
    trend_image(trends[0])
    drawn = time.perf_counter()
    return {
        "visits": max(len(trend.points) for trend in trends),
        "trends": len(trends),
        "trends_read_s": round(read - began, 3),
        "trends_worked_out_s": round(known - read, 3),
        "trends_drawn_s": round(drawn - began, 3),
    }
