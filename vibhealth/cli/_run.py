"""What every command runs inside: exit codes, one sentence for bad input, logging."""

import logging
import os
import platform
import sys
import traceback
from collections.abc import Callable, Sequence
from enum import IntEnum

from vibhealth.errors import VibhealthError

__all__ = ["ExitCode", "configure_logging", "expand_lists", "guarded", "single_threaded_algebra"]

LISTS = ("--before", "--after")


class ExitCode(IntEnum):
    """How a command ends; a HOLD is neither a usage error (2) nor a crash (1)."""

    DONE = 0
    BUG = 1
    BAD_INPUT = 2
    HOLD = 3
    INTERRUPTED = 130


def guarded(run: Callable[[], None]) -> int:
    """Run a command line and return its exit code.

    Parameters
    ----------
    run : callable
        Ends by returning or by ``SystemExit``.

    Returns
    -------
    int
        An `ExitCode`. Bad input ends in one sentence, never a traceback.
    """
    try:
        run()
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else int(end.code is not None)
    except VibhealthError as error:
        _say(f"vibhealth: {error}")
        return ExitCode.BAD_INPUT
    except KeyboardInterrupt:
        return ExitCode.INTERRUPTED
    except BrokenPipeError:
        silence_stdout()
        return ExitCode.DONE
    except Exception:  # noqa: BLE001 - the last line of defence; nothing is hidden
        _say(traceback.format_exc().rstrip())
        _say(f"vibhealth: this is a bug, your files are as they were; please report it: {_about()}")
        return ExitCode.BUG
    return ExitCode.DONE


def silence_stdout() -> None:
    """Send what is still to be written nowhere: the reader has closed the pipe."""
    descriptor = os.open(os.devnull, os.O_WRONLY)
    os.dup2(descriptor, sys.stdout.fileno())
    os.close(descriptor)


def configure_logging(verbosity: int) -> None:
    """Send the package's log to stderr: warnings, with -v information, with -vv all."""
    level = (logging.WARNING, logging.INFO, logging.DEBUG)[min(verbosity, 2)]
    logger = logging.getLogger("vibhealth")
    logger.setLevel(level)
    if not logger.handlers:
        handler = logging.StreamHandler()
        handler.setFormatter(logging.Formatter("%(levelname)s %(name)s: %(message)s"))
        logger.addHandler(handler)


def single_threaded_algebra() -> None:
    """Keep linear algebra to one thread, unless the user chose otherwise.

    The matrices here are small: on a busy machine more threads wait for each other,
    and the order of their sums changes the last bits of a result. Acts only before
    numpy is loaded.
    """
    for name in ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_NUM_THREADS"):
        os.environ.setdefault(name, "1")


def expand_lists(arguments: Sequence[str]) -> list[str]:
    """Let ``--before`` and ``--after`` take several files, as a shell's ``*.wav`` gives them.

    >>> expand_lists(["accept", "--before", "a.wav", "b.wav", "--json"])
    ['accept', '--before', 'a.wav', '--before', 'b.wav', '--json']
    """
    found: list[str] = []
    option, taken = "", 0
    for argument in arguments:
        if argument.startswith("-"):
            option, taken = (argument if argument in LISTS else ""), 0
        elif option:
            taken += 1
            if taken > 1:
                found.append(option)
        found.append(argument)
    return found


def _say(text: str) -> None:
    print(text, file=sys.stderr)  # noqa: T201 - talk of the program itself


def _about() -> str:
    from vibhealth import __version__

    system = f"{platform.system()} {platform.release()}"
    return f"vibhealth {__version__}, Python {platform.python_version()}, {system}"
