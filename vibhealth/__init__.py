"""vibhealth: does the rebuilt eccentric bearing run clean? PASS or HOLD."""

from importlib.metadata import PackageNotFoundError, version

__all__ = ["__version__"]

try:
    __version__ = version("vibhealth")
except PackageNotFoundError:  # running from a source tree that was never installed
    __version__ = "0+unknown"
