"""Exceptions: one root, one child per thing the caller can put right.

Each child also inherits the builtin a caller would expect. A message is one
sentence that names the place, the rule, the value found and what to do next.
"""

__all__ = [
    "BaselineError",
    "CardError",
    "GeometryError",
    "InputError",
    "JobError",
    "OutputError",
    "RecordingError",
    "SettingsError",
    "StoreError",
    "VibhealthError",
]


class VibhealthError(Exception):
    """Root of everything this package raises on purpose (exit code 2)."""


class InputError(VibhealthError, ValueError):
    """An argument or option that breaks a stated rule."""


class GeometryError(InputError):
    """Bearing geometry or given orders that no bearing can have."""


class CardError(InputError):
    """A machine card that cannot be read, or a key that breaks its rule."""


class BaselineError(InputError):
    """A baseline that cannot be made, read or compared with fairly."""


class JobError(InputError):
    """A job record or job folder that cannot be read, or contradicts itself."""


class SettingsError(InputError):
    """A limit or setting outside its allowed range."""


class RecordingError(InputError):
    """A recording that cannot be read, or whose samples cannot be used."""


class OutputError(VibhealthError, OSError):
    """A document that cannot be written, or would overwrite an existing file."""


class StoreError(InputError):
    """A history that cannot be opened, read or added to, or an entry it does not take."""
