"""What all reader tests share: a reader of one channel, and a check of refusals."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from vibhealth.errors import RecordingError
from vibhealth.model import Recording
from vibhealth.recording import read_recording

# A full stop followed by a capital letter starts a second sentence.
SECOND_SENTENCE = re.compile(r"[.!?]\s+[A-Z]")

Refused = Callable[..., str]
ReadOne = Callable[..., Recording]


@pytest.fixture
def refused() -> Refused:
    """Read a file that must be refused in one sentence which names it and says ``text``."""

    def check(path: Path, text: str, **arguments: Any) -> str:
        with pytest.raises(RecordingError, match=re.escape(text)) as caught:
            read_recording(path, **arguments)
        message = str(caught.value)
        assert str(path) in message or str(path.with_suffix(".toml")) in message
        assert "\n" not in message
        assert not SECOND_SENTENCE.search(message), message
        assert not message.endswith(".")
        return message

    return check


@pytest.fixture
def read_one() -> ReadOne:
    """Read the single recording of a file."""

    def read(path: Path, **arguments: Any) -> Recording:
        (recording,) = read_recording(path, **arguments)
        return recording

    return read
