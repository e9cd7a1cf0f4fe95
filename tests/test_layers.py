"""Imports follow the way of the data: hearing, extraction, review, logbook, answers.

A room may import the core, itself, and what ALLOWED grants; so a change in one room cannot
reach another but through the frozen types.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import fieldvoice

PACKAGE = Path(fieldvoice.__file__).parent
CORE = {"types", "errors", "settings", "wire", "locate", "plain", "number_words"}
EVERY = CORE | {
    "trade",
    "hearing",
    "listening",
    "extraction",
    "review",
    "logbook",
    "answers",
    "pipeline",
    "cli",
}

ALLOWED: dict[str, set[str]] = {
    "types": set(),
    "errors": set(),
    "locate": set(),
    "number_words": set(),
    "settings": {"errors"},
    "wire": {"types", "errors"},
    "plain": {"types"},
    "trade": CORE,
    "hearing": CORE,  # knows nothing of bees
    "listening": CORE | {"hearing"},  # knows nothing of bees either
    "extraction": CORE | {"trade"},
    "logbook": CORE | {"trade"},
    "review": CORE | {"trade", "logbook"},
    "answers": CORE | {"trade", "logbook"},
    "pipeline": EVERY - {"cli"},
    "cli": EVERY,
    "__main__": {"cli"},
    "__init__": set(),
}

HOME = {  # a library that only one room may know
    "av": "hearing listening",
    "sounddevice": "listening",
    "ctranslate2": "hearing",
    "faster_whisper": "hearing",
    "torch": "hearing",
    "whisper": "hearing",
    "spacy": "extraction",
    "dateparser": "extraction",
    "icalendar": "answers",
    "matplotlib": "answers",
    "sqlite3": "logbook",
    "sqlite_utils": "logbook",
}


def room_of(module: Path, package: Path) -> str:
    """The room a file belongs to: its folder, or its own name at the top."""
    parts = module.relative_to(package).with_suffix("").parts
    return parts[0]


def imports(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Line and dotted name of every import, also inside functions and type checks."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name
        elif isinstance(node, ast.ImportFrom):
            where = "." * node.level + (node.module or "")
            for alias in node.names:
                yield node.lineno, f"{where}.{alias.name}"


def broken_rules(package: Path) -> list[str]:
    """Every import under `package` that ALLOWED or HOME forbids."""
    found = []
    top = {p.stem for p in package.glob("*.py")} | {p.name for p in package.iterdir() if p.is_dir()}
    for module in sorted(package.rglob("*.py")):
        room = room_of(module, package)
        for line, name in imports(ast.parse(module.read_text(encoding="utf-8"))):
            place = f"{module.relative_to(package)}:{line}"
            root, _, rest = name.partition(".")
            target = rest.partition(".")[0]
            if not root:
                found.append(f"{place}: a relative import hides where it leads")
            elif root != "fieldvoice":
                if room not in HOME.get(root, room).split():
                    found.append(f"{place}: {room} imports {root}, which is for {HOME[root]} alone")
            elif target in top and target != room and target not in ALLOWED[room]:
                found.append(f"{place}: {room} imports {target}")
    return found


def test_imports_follow_the_data() -> None:
    assert broken_rules(PACKAGE) == []


def test_every_room_has_a_rule() -> None:
    rooms = {room_of(module, PACKAGE) for module in PACKAGE.rglob("*.py")}
    assert rooms == set(ALLOWED)


@pytest.mark.parametrize(
    ("room", "line"),
    [
        ("hearing", "from fieldvoice import trade"),
        ("hearing", "from fieldvoice.trade.load import words"),
        ("trade", "import fieldvoice.logbook.opening"),
        ("extraction", "def late():\n    from fieldvoice import hearing"),
        ("logbook", "from fieldvoice.review import terminal"),
        ("review", "from fieldvoice import pipeline"),
        ("answers", "from .. import hearing"),
        ("review", "import sqlite3"),
        ("extraction", "import torch.nn"),
    ],
)
def test_a_planted_import_is_caught(tmp_path: Path, room: str, line: str) -> None:
    for name in ALLOWED:
        if name in CORE | {"pipeline", "__main__"}:
            (tmp_path / f"{name}.py").touch()
        elif name != "__init__":
            (tmp_path / name).mkdir()
    (tmp_path / room / "planted.py").write_text(line, encoding="utf-8")
    assert len(broken_rules(tmp_path)) == 1
