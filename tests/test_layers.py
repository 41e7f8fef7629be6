"""A module imports only from layers below its own; siblings not at all."""

import ast
from pathlib import Path

import pytest

import vibhealth

PACKAGE = Path(vibhealth.__file__).parent

# Ground first. Names in one tuple are siblings and may not import each other.
LAYERS = (
    ("errors",),
    ("units", "_check", "_toml"),
    ("model",),
    ("card", "recording", "signal", "bearing"),
    ("baseline", "job"),
    ("diagnosis",),
    ("acceptance",),
    ("outlook",),
    ("store", "report", "simulate"),
    ("cli",),
)
RANK = {name: rank for rank, names in enumerate(LAYERS) for name in names}
ABOVE_ALL = {"__init__", "__main__"}


def top_level_imports(source: str) -> set[str]:
    """First name below ``vibhealth`` of every absolute import, nested ones too."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {name.name for name in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            if node.module == "vibhealth":
                found |= {f"vibhealth.{name.name}" for name in node.names}
            else:
                found.add(node.module)
    return {
        parts[1]
        for name in found
        if (parts := name.split("."))[0] == "vibhealth" and len(parts) > 1
    }


def violations(layer: str, source: str) -> set[str]:
    return {
        other
        for other in top_level_imports(source) - {layer}
        if other != "__version__" and RANK.get(other, len(LAYERS)) >= RANK[layer]
    }


@pytest.mark.parametrize(
    "path",
    sorted(PACKAGE.rglob("*.py")),
    ids=lambda path: path.relative_to(PACKAGE).as_posix(),
)
def test_imports_point_downwards_only(path: Path) -> None:
    layer = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
    if layer in ABOVE_ALL:
        return
    assert layer in RANK, f"{layer} has no layer: add it to LAYERS"
    assert violations(layer, path.read_text("utf-8")) == set()


@pytest.mark.parametrize(
    ("layer", "source", "expected"),
    [
        ("signal", "from vibhealth.diagnosis import x", {"diagnosis"}),
        ("signal", "import vibhealth.bearing.orders", {"bearing"}),
        ("signal", "def f():\n    from vibhealth import cli", {"cli"}),
        ("report", "from vibhealth.simulate import x", {"simulate"}),
        (
            "report",
            "from vibhealth.model import Recording\nfrom vibhealth import __version__",
            set(),
        ),
    ],
)
def test_a_planted_upward_or_sideways_import_is_found(
    layer: str, source: str, expected: set[str]
) -> None:
    assert violations(layer, source) == expected
