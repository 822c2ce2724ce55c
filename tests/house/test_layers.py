"""Nothing is imported by anything earlier: the walk through DEVELOPERS.md's table."""

import ast
import inspect
from importlib import import_module
from pathlib import Path

import pytest

import aiming

PACKAGE = Path(aiming.__file__).parent

LAYERS = (
    {"base"},
    {"geometry"},
    {"speaker"},
    {"field"},
    {"aim", "rigging"},
    {"files", "scenario"},
    {"results"},
    {"cautions", "analysis"},
    {"sweep", "site"},
    {"report"},
    {"faces", "live"},
    {"cli", "__main__"},
)
FREE = (
    ("scenario", "files"),
    ("files", "scenario"),
    ("cautions", "analysis"),
    ("analysis", "cautions"),
    ("__main__", "cli"),
)
"""Pairs within one layer of which the first may import the second."""
PUBLIC = "__init__"
"""The package's own contents page names functions of any layer, at their first use."""


def layer_of(room: str) -> int:
    for number, rooms in enumerate(LAYERS):
        if room in rooms:
            return number
    raise AssertionError(f"aiming/{room}: no layer of the table holds this room")


def room_of(path: Path) -> str:
    first = path.relative_to(PACKAGE).parts[0]
    return first.removesuffix(".py")


def imported(path: Path) -> set[str]:
    """Rooms of this package that a module imports, wherever in it the import stands."""
    here = ("aiming", *path.relative_to(PACKAGE).with_suffix("").parts)
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            base = here[: len(here) - node.level] if node.level else ()
            whole = (*base, *(node.module or "").split(".")) if node.module else base
            names = [(*whole, alias.name) for alias in node.names]
        elif isinstance(node, ast.Import):
            names = [tuple(alias.name.split(".")) for alias in node.names]
        else:
            continue
        found |= {name[1] for name in names if name[0] == "aiming" and len(name) > 1}
    return found


MODULES = sorted(path for path in PACKAGE.rglob("*.py"))


def test_the_walk_finds_the_house() -> None:
    assert len(MODULES) > 60
    assert "scenario" in imported(PACKAGE / "analysis" / "solve.py")
    assert "aim" in imported(PACKAGE / "analysis" / "solve.py")


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_no_import_points_up_or_sideways(path: Path) -> None:
    room = room_of(path)
    if room == PUBLIC:
        return
    for other in imported(path):
        if other == room or (room, other) in FREE or other in ("AimingError", "ScenarioError"):
            continue
        if layer_of(other) >= layer_of(room):
            direction = "sideways" if layer_of(other) == layer_of(room) else "up"
            raise AssertionError(f"{path.relative_to(PACKAGE)} imports {other}: {direction}")


def test_heavy_packages_are_imported_inside_functions() -> None:
    heavy = {"scipy", "sympy", "matplotlib", "h5py", "ezdxf", "pyarrow", "distributed", "jinja2"}
    for path in MODULES:
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and not node.level:
                names = [node.module or ""]
            bad = {name.split(".")[0] for name in names} & heavy
            assert not bad, f"{path.relative_to(PACKAGE)}: {bad} at the top of the module"


COMPUTING = {"field", "aim", "rigging", "analysis", "sweep", "site"}


def functions_from(path: Path, rooms: set[str]) -> list[str]:
    """What a module imports from these rooms that is neither a type nor a constant."""
    here = ("aiming", *path.relative_to(PACKAGE).with_suffix("").parts)
    found: list[str] = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.ImportFrom) or not node.level:
            continue
        whole = (*here[: len(here) - node.level], *(node.module or "").split("."))
        if len(whole) < 2 or whole[1] not in rooms:
            continue
        module = import_module(".".join(whole))
        named = {alias.name: getattr(module, alias.name) for alias in node.names}
        found += [
            f"{'.'.join(whole[1:])}.{name}"
            for name, of in named.items()
            if inspect.isroutine(of) or inspect.ismodule(of)
        ]
    return found


@pytest.mark.parametrize(
    "path",
    [path for path in MODULES if room_of(path) == "report"],
    ids=lambda path: str(path.relative_to(PACKAGE)),
)
def test_a_face_computes_nothing(path: Path) -> None:
    """It shows what the answer holds: of the rooms that compute it knows only the types."""
    assert functions_from(path, COMPUTING) == []
