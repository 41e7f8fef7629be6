"""Tables of the history: names of columns, definitions, and the triggers that keep them."""

__all__ = ["APPLICATION_ID", "CHILDREN", "COLUMNS", "ENTRIES", "append_only"]

APPLICATION_ID = 0x76696268  # "vibh", in the header of the file

ENTRIES = ("recording", "verdict", "rebuild", "opened_unit", "withdrawal")
"""Tables with a digest of their own, each row belonging to a machine."""

CHILDREN: dict[str, tuple[str, ...]] = {
    "recording": ("descriptor", "family"),
    "verdict": ("verdict_recording",),
    "rebuild": (),
    "opened_unit": (),
    "withdrawal": (),
}
"""Tables whose rows are part of an entry, in the order of its digest."""

COLUMNS: dict[str, tuple[str, ...]] = {
    "recording": (
        "sha256",
        "channel",
        "path",
        "point",
        "direction",
        "stage",
        "moment",
        "recorded_at",
        "running_hours_h",
        "load",
        "temperature_c",
        "shaft_frequency_hz",
        "sampling_rate_hz",
        "duration_s",
        "unit",
        "unusable_because",
        "masked",
        "card_sha256",
        "tool_version",
    ),
    "descriptor": ("id", "title", "value", "unit", "band_low_hz", "band_high_hz"),
    "family": (
        "bearing",
        "element",
        "shaft_order",
        "frequency_hz",
        "false_alarm_probability",
        "depth",
        "depth_whitened",
        "depth_low",
        "depth_high",
        "impact_m_s2",
        "present",
        "blind_spot",
        "result",
    ),
    "verdict": (
        "verdict",
        "hold",
        "headline",
        "reasons",
        "check_name",
        "decided_on",
        "job_sha256",
        "named",
        "override_by",
        "override_reason",
        "override_at",
        "override_is_valid",
        "tool_version",
    ),
    "verdict_recording": ("sha256",),
    "rebuild": (
        "at",
        "reason",
        "by",
        "unit_serial",
        "bearing_designation",
        "running_hours_h",
        "remark",
    ),
    "opened_unit": ("removed_at", "bearing", "element", "damage", "by", "opened_on", "remark"),
    "withdrawal": ("kind", "entry_id", "by", "reason"),
}
"""Content of a row, in the order of its digest; without keys, digest and time of adding."""


def append_only(table: str) -> tuple[str, str]:
    """Two triggers that refuse to change or delete a row of ``table``.

    >>> append_only("rebuild")[0].splitlines()[0]
    'CREATE TRIGGER rebuild_is_not_updated BEFORE UPDATE ON rebuild'
    """
    refuse = "BEGIN SELECT RAISE(ABORT, 'the history is append-only'); END"
    return (
        f"CREATE TRIGGER {table}_is_not_updated BEFORE UPDATE ON {table}\n{refuse}",
        f"CREATE TRIGGER {table}_is_not_deleted BEFORE DELETE ON {table}\n{refuse}",
    )
