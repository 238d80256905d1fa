"""Imports run one way: the layers of the design, held by reading every import statement."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
# Each of these may import those to its right, none to its left.
STATION_ORDER = ["commands", "screens", "capture", "store", "readiness", "motion", "squad"]
CORE = ("station/motion", "station/squad", "station/readiness")
DRIVERS_WITHOUT_RADIO = ("samples", "profile", "profile_file", "decode", "clock", "recording")
DEMO = ("station/commands/demo.py", "station/commands/demo_club.py")


def modules() -> list[Path]:
    found = [p for top in ("drivers", "simulated_sensor", "station") for p in (ROOT / top).rglob("*.py")]
    assert len(found) > 30
    return sorted(found)


@cache  # eight tests ask for each file
def imported(path: Path) -> frozenset[str]:
    """Every module a file imports, wherever in it, as a dotted name."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            assert node.level == 0, f"{path}: relative import"
            names.add(node.module)
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return frozenset(names)


def where(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def tops(path: Path) -> set[str]:
    return {name.partition(".")[0] for name in imported(path)}


@pytest.mark.parametrize("path", modules(), ids=where)
def test_top_folders_import_one_way(path: Path) -> None:
    top = where(path).partition("/")[0]
    allowed = {"drivers": set(), "simulated_sensor": {"drivers"}, "station": {"drivers"}}[top]
    if where(path) in DEMO:
        allowed = allowed | {"simulated_sensor"}
    others = tops(path) & {"drivers", "simulated_sensor", "station", "tests", "tools"} - {top}
    assert others <= allowed


@pytest.mark.parametrize("path", modules(), ids=where)
def test_inside_the_station_imports_run_to_the_right(path: Path) -> None:
    parts = where(path).split("/")
    if parts[0] != "station" or len(parts) < 3:
        return
    own = STATION_ORDER.index(parts[1])
    for name in imported(path):
        pieces = name.split(".")
        if pieces[0] == "station" and len(pieces) > 1 and pieces[1] in STATION_ORDER:
            assert STATION_ORDER.index(pieces[1]) >= own, f"{where(path)} imports {name}"


@pytest.mark.parametrize("path", modules(), ids=where)
def test_qt_is_imported_by_screens_and_the_program_that_opens_them(path: Path) -> None:
    if not where(path).startswith(("station/screens", "station/commands")):
        assert not tops(path) & {"PySide6", "pyqtgraph"}


@pytest.mark.parametrize("path", modules(), ids=where)
def test_the_core_knows_no_qt_no_loop_no_database_no_radio_and_no_clock(path: Path) -> None:
    if where(path).startswith(CORE):
        assert not tops(path) & {"PySide6", "pyqtgraph", "asyncio", "sqlalchemy", "bleak", "bumble", "time"}


@pytest.mark.parametrize("path", modules(), ids=where)
def test_threads_meet_in_one_file(path: Path) -> None:
    if where(path) != "station/capture/threads.py" and where(path).startswith("station"):
        assert not tops(path) & {"threading", "queue", "concurrent"}


@pytest.mark.parametrize("path", modules(), ids=where)
def test_what_reads_samples_needs_no_radio(path: Path) -> None:
    if where(path).startswith("drivers/") and path.stem in DRIVERS_WITHOUT_RADIO:
        assert not tops(path) & {"bleak", "bumble"}


@pytest.mark.parametrize("path", modules(), ids=where)
def test_nothing_is_posix_only(path: Path) -> None:
    posix_only = {"fcntl", "pwd", "grp", "resource", "termios", "tty", "pty", "syslog"}
    assert not tops(path) & posix_only


@pytest.mark.parametrize("path", modules(), ids=where)
def test_every_module_says_what_it_is_for(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert ast.get_docstring(ast.parse(text)), f"{where(path)} has no docstring"


@pytest.mark.parametrize("path", modules(), ids=where)
def test_what_a_terminal_prints_stands_as_it_is(path: Path) -> None:
    """A sensor's address with ":AB:" in it came out with an emoji, and no station could find it by that."""
    calls = [one for one in ast.walk(ast.parse(path.read_text("utf-8"))) if isinstance(one, ast.Call)]
    for call in calls:
        if isinstance(call.func, ast.Name) and call.func.id == "Console":
            given = {one.arg: ast.unparse(one.value) for one in call.keywords}
            assert given.get("emoji") == "False", f"{where(path)}:{call.lineno}"
