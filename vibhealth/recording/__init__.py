"""Files -> recordings: readers of audio, tables and arrays, the sidecar, and a writer."""

from vibhealth.recording.read import read_recording
from vibhealth.recording.request import ChannelRequest, ReadOptions
from vibhealth.recording.sidecar import (
    SIDECAR_KEYS,
    Sidecar,
    parse_sidecar,
    read_sidecar,
    sidecar_path,
)
from vibhealth.recording.write import write_recording

__all__ = [
    "SIDECAR_KEYS",
    "ChannelRequest",
    "ReadOptions",
    "Sidecar",
    "parse_sidecar",
    "read_recording",
    "read_sidecar",
    "sidecar_path",
    "write_recording",
]
