"""How many bytes of samples an audio header promises, and how many the file holds.

The decoding library shortens a cut-off file without a word, so the chunks are
walked here: RIFF and RF64 (EBU Tech 3306), W64, AIFF and CAF are all lists of
(name, size, content).
"""

import struct
from pathlib import Path
from typing import BinaryIO, NamedTuple

__all__ = ["DataExtent", "data_extent"]

_UNKNOWN_32 = 0xFFFFFFFF


class DataExtent(NamedTuple):
    """Bytes of samples promised by the header (None: left open) and present in the file."""

    promised: int | None
    present: int


class _Layout(NamedTuple):
    first_chunk: int
    name_bytes: int
    size_format: str
    size_counts_header: bool
    alignment: int
    data_name: bytes
    data_prefix: int  # bytes before the first sample that the size counts too


def _layout(head: bytes) -> _Layout | None:
    magic = head[:4]
    if magic in (b"RIFF", b"RF64"):
        return _Layout(12, 4, "<I", False, 2, b"data", 0)
    if magic == b"RIFX":
        return _Layout(12, 4, ">I", False, 2, b"data", 0)
    if magic == b"FORM":
        return _Layout(12, 4, ">I", False, 2, b"SSND", 8)
    if magic == b"caff":
        return _Layout(8, 4, ">q", False, 1, b"data", 4)
    if magic == b"riff":
        return _Layout(40, 16, "<Q", True, 8, b"data", 0)
    return None


def data_extent(path: Path) -> DataExtent | None:
    """Promised and present bytes of samples; None for FLAC and headers without a data chunk."""
    with path.open("rb") as stream:
        layout = _layout(stream.read(12))
        return None if layout is None else _find_data(stream, layout, path.stat().st_size)


def _find_data(stream: BinaryIO, layout: _Layout, file_bytes: int) -> DataExtent | None:
    header_bytes = layout.name_bytes + struct.calcsize(layout.size_format)
    position, size_64 = layout.first_chunk, None
    while position + header_bytes <= file_bytes:
        stream.seek(position)
        header = stream.read(header_bytes)
        size = int(struct.unpack(layout.size_format, header[layout.name_bytes :])[0])
        start = position + header_bytes
        name = header[:4]
        if name == b"ds64":
            size_64 = int(struct.unpack("<Q", stream.read(16)[8:].ljust(8, b"\0"))[0])
        if name == layout.data_name:
            return _extent(layout, size, size_64, file_bytes - start, header_bytes)
        content = max(size - header_bytes if layout.size_counts_header else size, 0)
        position = start + content + -content % layout.alignment
    return None


def _extent(
    layout: _Layout, size: int, size_64: int | None, present: int, header_bytes: int
) -> DataExtent:
    present = max(present - layout.data_prefix, 0)
    if layout.size_format in ("<I", ">I") and size == _UNKNOWN_32:
        return DataExtent(size_64, present)
    if size < 0:  # CAF: "up to the end of the file"
        return DataExtent(None if layout.data_name == b"data" else size, present)
    promised = size - layout.data_prefix - (header_bytes if layout.size_counts_header else 0)
    return DataExtent(max(promised, 0), present)
