"""Every command has help, stands in the README, and loads nothing heavy for its help."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from vibhealth import __version__
from vibhealth.cli import ORDER

COMMANDS = (*(name for name in ORDER if name != "card"), "card new", "card check")
HEAVY = ("numpy", "scipy", "pandas", "matplotlib", "jinja2", "soundfile")
README = Path(__file__).parents[2] / "README.md"

LISTING = """
import sys
from vibhealth.cli import main
for arguments in {lines!r}:
    try:
        main(arguments)
    except SystemExit as end:
        assert end.code in (0, None), (arguments, end.code)
print("LOADED", *sorted(set(sys.modules) & set({heavy!r})))
"""


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_explains_itself(run: Callable[..., Any], command: str) -> None:
    ended = run(*command.split(), "--help")
    assert ended.code == 0
    assert ended.err == ""
    usage, _, rest = ended.out.partition("Options:")
    assert f"vibhealth {command}" in usage
    assert len(usage.split("\n\n")[1].split()) > 4
    for line in rest.splitlines():
        if line.startswith("  --"):
            assert len(line.split()) > 1, f"{command}: {line} has no help"


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_stands_in_the_readme(command: str) -> None:
    assert f"vibhealth {command}" in README.read_text("utf-8")


def test_help_lists_the_commands_in_the_order_of_use(run: Callable[..., Any]) -> None:
    listed = run("--help").out.partition("Commands:")[2].split("\n\n")[0]
    assert [line.split()[0] for line in listed.splitlines() if line.strip()] == list(ORDER)


def test_no_arguments_show_the_help(run: Callable[..., Any]) -> None:
    ended = run()
    assert "Commands:" in ended.out + ended.err
    assert ended.code in {0, 2}


def test_version(run: Callable[..., Any]) -> None:
    assert run("--version").out == f"vibhealth {__version__}\n"


def test_help_and_version_load_nothing_heavy() -> None:
    lines = [["--version"], ["--help"], *([*name.split(), "--help"] for name in COMMANDS)]
    ended = subprocess.run(
        [sys.executable, "-c", LISTING.format(lines=lines, heavy=HEAVY)],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONUTF8": "1"},
    )
    assert ended.stdout.splitlines()[-1].strip() == "LOADED"


def test_the_check_for_heavy_modules_sees_one() -> None:
    source = "import numpy\n" + LISTING.format(lines=[["--version"]], heavy=HEAVY)
    ended = subprocess.run(
        [sys.executable, "-c", source], capture_output=True, text=True, check=True
    )
    assert ended.stdout.splitlines()[-1] == "LOADED numpy"


def test_a_misspelt_command_is_a_usage_error(run: Callable[..., Any]) -> None:
    ended = run("acept")
    assert ended.code == 2
    assert "Did you mean 'accept'?" in ended.err
