"""The house stands as DEVELOPERS.md draws it: imports run one way, libraries keep their rooms."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).parents[1]
PACKAGE = CHECKOUT / "shrinkwise"

ORDER = (
    "errors",
    "version",
    "files",
    "progress",
    "engine",
    "profile",
    "sample",
    "records",
    "demand",
    "shelf",
    "money",
    "planning",
    "scenarios",
    "tonight",
    "report",
    "dashboard",
    "running",
    "cli",
    "__main__",
)
"""Rooms from the top of the data flow down: a room imports only from rooms above it."""

LIBRARIES = {
    "numba": (
        "engine/passes.py",
        "engine/kernel.py",
        "engine/particles.py",
        "engine/share_filter.py",
        "engine/batch_trace.py",
        "engine/kind_odds.py",
        "engine/oldest_odds.py",
        "engine/pure.py",
        "engine/mixed.py",
    ),
    "streamlit": ("dashboard/", "app.py"),
    "altair": (
        "report/charts.py",
        "report/demand_charts.py",
        "report/level_chart.py",
        "report/switch_charts.py",
        "report/target_chart.py",
    ),
    "pandas": ("demand/level.py",),
    "statsmodels": ("demand/level.py",),
    "threadpoolctl": (
        "progress.py",
        "demand/model.py",
        "demand/together.py",
        "demand/foresight.py",
    ),
    "dateutil": ("demand/special_days.py",),
    "dataframely": ("records/tables.py",),
    "fastexcel": ("records/workbook.py",),
    "pyarrow": ("records/workbook.py",),
    "xlsxwriter": ("report/sheets.py", "sample/exports.py"),
    "typer": ("cli.py",),
    "rich": (
        "cli.py",
        "running.py",
        "report/console.py",
        "report/life_console.py",
        "report/terminal_table.py",
    ),
    "holidays": ("profile/store.py", "demand/calendar.py", "sample/truth.py"),
}
"""Where a library may be imported."""


def modules() -> list[Path]:
    return [*sorted(PACKAGE.rglob("*.py")), CHECKOUT / "app.py"]


def imports(path: Path) -> Iterator[str]:
    """Full names of all modules that a file imports, wherever in the file."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            assert node.level == 0, f"{path}: relative import"
            for alias in node.names:
                yield f"{node.module}.{alias.name}"


def room_of(name: str) -> str:
    """The room of a module name such as shrinkwise.records.tables."""
    return name.split(".")[1] if "." in name else ""


def own_room(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(CHECKOUT)))
def test_imports_run_one_way(path: Path) -> None:
    is_root = path.parent == CHECKOUT or path == PACKAGE / "__init__.py"
    for name in imports(path):
        if name == "shrinkwise" or name.startswith("shrinkwise."):
            room = room_of(name)
            assert room in ORDER, f"{path.name} imports {name}: the package root or no room"
            if not is_root:
                assert ORDER.index(room) <= ORDER.index(own_room(path)), f"{path} imports {name}"


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(CHECKOUT)))
def test_libraries_stay_in_their_rooms(path: Path) -> None:
    base = PACKAGE if path.is_relative_to(PACKAGE) else CHECKOUT
    place = path.relative_to(base).as_posix()
    for name in imports(path):
        allowed = LIBRARIES.get(name.split(".")[0])
        if allowed is not None:
            assert any(place.startswith(room) for room in allowed), f"{place} imports {name}"


def test_caches_stand_in_one_module() -> None:
    caching = [path.name for path in modules() if "st.cache_" in path.read_text(encoding="utf-8")]
    assert caching == ["state.py"]


def test_every_room_is_on_the_map() -> None:
    rooms = {own_room(path) for path in PACKAGE.rglob("*.py")} - {"__init__"}
    assert rooms == set(ORDER)
    document = (CHECKOUT / "DEVELOPERS.md").read_text(encoding="utf-8")
    plan = re.search(r"```\nshrinkwise/\n(.*?)```", document, re.DOTALL)
    assert plan, "DEVELOPERS.md has no map"
    mapped = [
        word.rstrip("/").removesuffix(".py") for word in re.findall(r"^ {2}(\S+)", plan[1], re.M)
    ]
    assert tuple(mapped) == ORDER


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(CHECKOUT)))
def test_modules_are_small_and_say_what_they_are(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert ast.get_docstring(ast.parse(text)), f"{path} does not say what it is"
    assert text.count("\n") <= 260, f"{path} is more than one noun by now"
