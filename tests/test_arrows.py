"""The imports between modules: core imports nothing of tui, and no module imports from a higher level.

The test reads imports from the source code, so imports for types and inside functions count as well.
"""

import ast
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

Arrows = Mapping[str, frozenset[str]]
"""For each module, the modules that it imports."""

ROOMS_OF_TUI = [
    "__main__",
    "app",
    "board convert history",
    "runs",
    "pattern runout",
    "counter operation setup",
    "completion controls_screen help log_check palette printing reports",
    "key_queue manual",
    "number_keys",
    "widgets",
    "context",
    "controls faults log_access painting themes",
    "arguments bell key_flood paths pedal presses terminal",
    "glossary glyphs number_burst",
]
"""The packages of tui in levels, the highest first. A package imports only from lower levels."""

ROOMS_OF_CORE = [
    "pages",
    "logbook",
    "record",
    "run",
    "jobs",
    "conversion",
    "operations",
    "events",
    "replanning",
    "cutting questions set_up_steps",
    "inputs safety",
    "plan",
    "drawing",
    "lathe",
    "values",
    "data",
]
"""The packages of core in levels, the highest first. A package imports only from lower levels."""


def module_of(path: Path, root: Path) -> str:
    """Return the name by which a file is imported."""
    parts = path.relative_to(root).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imported(tree: ast.AST, modules: set[str]) -> Iterator[str]:
    """Yield each of `modules` that a source imports anywhere, including imports by a name in a string."""
    for node in ast.walk(tree):
        match node:
            case ast.Import(names):
                yield from (name.name for name in names if name.name in modules)
            case ast.ImportFrom(str(module), names, 0):
                inside = {f"{module}.{name.name}" for name in names} & modules
                yield from inside
                if len(inside) < len(names):
                    yield from {module} & modules
            case ast.Constant(str(text)) if "." in text and text in modules:
                yield text


def arrows(root: Path, *packages: str) -> Arrows:
    """Return which modules each module imports. Only modules of `packages` are listed."""
    files = {module_of(path, root): path for package in packages for path in sorted((root / package).rglob("*.py"))}
    return {
        module: frozenset(imported(ast.parse(path.read_text(encoding="utf-8")), set(files))) - {module}
        for module, path in files.items()
    }


def chain(graph: Arrows, start: str, end: str) -> list[str]:
    """Return the shortest chain of imports from one module to another, with both ends; [] if there is none."""
    chains, seen = [[start]], {start}
    for so_far in chains:
        for module in sorted(graph[so_far[-1]]):
            if module == end:
                return [*so_far, end]
            if module not in seen and module in graph:
                seen.add(module)
                chains.append([*so_far, module])
    return []


def cycles(graph: Arrows) -> list[list[str]]:
    """Return the shortest import cycle through each module that is in a cycle. Each cycle is listed once."""
    found: dict[frozenset[str], list[str]] = {}
    for module in sorted(graph):
        if cycle := chain(graph, module, module):
            found.setdefault(frozenset(cycle), cycle)
    return list(found.values())


def as_files(cycle: list[str]) -> str:
    """Return the modules of a cycle as file names joined by arrows."""
    return " -> ".join(module.replace(".", "/") + ".py" for module in cycle)


@pytest.fixture(scope="module")
def graph() -> Arrows:
    """Return which modules each module of the program imports."""
    return arrows(ROOT, "tui", "core")


def test_the_core_package_does_not_import_the_tui_package(graph: Arrows) -> None:
    """Imports for types count too."""
    up = [
        [module, other]
        for module in graph
        for other in graph[module]
        if module.startswith("core") and other.startswith("tui")
    ]
    assert not up, "\n".join(map(as_files, up))


def test_the_tui_package_has_no_import_cycle(graph: Arrows) -> None:
    """A screen imports only the screens that it opens. To go back, it returns an answer or calls a callback."""
    found = cycles({module: to for module, to in graph.items() if module.startswith("tui")})
    assert not found, "\n".join(map(as_files, found))


@pytest.mark.parametrize(("package", "rooms"), [("tui", ROOMS_OF_TUI), ("core", ROOMS_OF_CORE)])
def test_packages_import_only_packages_on_lower_levels(graph: Arrows, package: str, rooms: list[str]) -> None:
    """Every package has a level in one of the two lists of levels."""
    level = {room: number for number, line in enumerate(rooms) for room in line.split()}
    inside = {module: module.split(".")[1] for module in graph if module.startswith(f"{package}.")}
    assert sorted(set(inside.values())) == sorted(level)
    up = [
        [module, other]
        for module, room in inside.items()
        for other in sorted(graph[module] & inside.keys())
        if room != inside[other] and level[room] >= level[inside[other]]
    ]
    assert not up, "\n".join(map(as_files, up))


def test_the_core_package_has_no_import_cycle(graph: Arrows) -> None:
    """If two modules share code, the code is in a third module at a lower level."""
    found = cycles({module: to for module, to in graph.items() if module.startswith("core")})
    assert not found, "\n".join(map(as_files, found))


def test_an_import_cycle_through_four_kinds_of_import_is_found(tmp_path: Path) -> None:
    """The kinds are imports at the top, inside a function, for types only, and by a name in a string."""
    sources = {
        "one": "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from room.two import Two",
        "two": "def late():\n    from room import three",
        "three": 'SCREENS = {"four": "room.four"}',
        "four": "import room.one",
        "five": "import room.one",
    }
    (tmp_path / "room").mkdir()
    for name, source in sources.items():
        (tmp_path / "room" / f"{name}.py").write_text(source)
    found = [as_files(cycle) for cycle in cycles(arrows(tmp_path, "room"))]
    assert found == ["room/four.py -> room/one.py -> room/two.py -> room/three.py -> room/four.py"]
