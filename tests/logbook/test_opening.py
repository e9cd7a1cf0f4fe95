"""A logbook opens whole, or one sentence says why not; and nothing of it is changed."""

from __future__ import annotations

import errno
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from makers import MAY, SYRUP, drafted, query

from fieldvoice.errors import LogbookError
from fieldvoice.logbook.opening import open_logbook, saying_what_is_wrong, writing
from fieldvoice.logbook.register_changes import add_hive
from fieldvoice.logbook.schema import STEPS
from fieldvoice.types import ACTIONS, KINDS, ROLES, STATUSES


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "log.db"


def test_a_new_logbook_is_what_it_says(path: Path) -> None:
    with open_logbook(path, create=True) as logbook:
        one = logbook.conn.execute
        assert one("PRAGMA journal_mode").fetchone()[0] == "wal"
        assert one("PRAGMA foreign_keys").fetchone()[0] == 1
        assert one("PRAGMA synchronous").fetchone()[0] == 2
        plain = [
            (name, strict)
            for _, name, kind, _, _, strict in one("PRAGMA table_list").fetchall()
            if kind == "table" and not name.startswith(("sqlite_", "_sqlite"))
        ]
        assert [name for name, strict in plain if not strict] == []
        assert {"yards", "hives", "aliases", "recordings", "words", "drafts", "draft_values",
                "entries", "entry_values", "history", "unheard", "windows"} <= {
                    name for name, _ in plain}  # fmt: skip


def test_it_is_not_made_by_looking(path: Path) -> None:
    with pytest.raises(LogbookError, match="no logbook at"), open_logbook(path):
        pass
    assert not path.exists()


def test_opening_twice_changes_nothing(path: Path) -> None:
    with open_logbook(path, create=True) as logbook:
        add_hive(logbook, "7", "home", MAY)
    before = query(path, "SELECT * FROM sqlite_schema")
    with open_logbook(path, create=True):
        pass
    assert query(path, "SELECT * FROM sqlite_schema") == before
    assert query(path, "SELECT name FROM _sqlite_migrations") == [
        (step.__name__,) for step in STEPS
    ]


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"hive 7 was fed\n" * 100, "not a SQLite file"),
        (b"SQLite format 3\x00" + b"\xff" * 4000, "damaged or not a logbook"),
        (b"x", "not a SQLite file"),
    ],
)
def test_what_is_no_database(path: Path, content: bytes, says: str) -> None:
    path.write_bytes(content)
    with pytest.raises(LogbookError, match=says), open_logbook(path, create=True):
        pass
    assert path.read_bytes() == content


def test_a_database_of_another_program(path: Path) -> None:
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE songs (title TEXT)")
    other.close()
    before = path.read_bytes()
    with pytest.raises(LogbookError, match="another program"), open_logbook(path, create=True):
        pass
    assert query(path, "SELECT name FROM sqlite_schema") == [("songs",)]
    assert path.read_bytes()[100:] == before[100:]


def test_a_logbook_of_a_newer_program(path: Path) -> None:
    with open_logbook(path, create=True) as logbook:
        logbook.execute(
            "INSERT INTO _sqlite_migrations (migration_set, name, applied_at)"
            " VALUES ('fieldvoice', 'step_9999_later', '2030')"
        )
    with pytest.raises(LogbookError, match=r"newer fieldvoice .*9999.*update"), open_logbook(path):
        pass


def test_a_folder(tmp_path: Path) -> None:
    with pytest.raises(LogbookError, match="is a folder"), open_logbook(tmp_path, create=True):
        pass


def test_a_locked_one(path: Path) -> None:
    with open_logbook(path, create=True):
        pass
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with (
        pytest.raises(LogbookError, match="locked by another"),
        open_logbook(path, busy_seconds=0.1) as logbook,
        writing(logbook),
    ):
        pass
    other.close()


def test_a_locked_one_is_waited_for(path: Path) -> None:
    with open_logbook(path, create=True):
        pass
    other = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    other.execute("BEGIN IMMEDIATE")
    let_go = threading.Timer(0.3, lambda: other.execute("COMMIT"))
    let_go.start()
    with open_logbook(path, busy_seconds=20) as logbook:
        add_hive(logbook, "7", "home", MAY)
    let_go.join()
    other.close()
    assert query(path, "SELECT label FROM hives") == [("7",)]


def test_a_page_that_was_damaged(path: Path) -> None:
    with open_logbook(path, create=True) as logbook:
        drafted(logbook, [SYRUP] * 50)
        logbook.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        page = logbook.execute(
            "SELECT rootpage FROM sqlite_schema WHERE name = 'drafts'"
        ).fetchone()[0]
        size = logbook.execute("PRAGMA page_size").fetchone()[0]
    raw = bytearray(path.read_bytes())
    raw[(page - 1) * size : page * size] = b"\xee" * size
    path.write_bytes(raw)
    with pytest.raises(LogbookError, match="damaged"), open_logbook(path) as logbook:
        list(logbook.query("SELECT * FROM drafts"))


def test_one_that_may_only_be_read(path: Path) -> None:
    """As root file modes do not count, so the file is frozen by the command line's own tool."""
    with open_logbook(path, create=True) as logbook:
        add_hive(logbook, "7", "home", MAY)
        logbook.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    path.chmod(0o444)
    path.parent.chmod(0o555)
    script = (
        "import sys; from pathlib import Path\n"
        "from fieldvoice.errors import LogbookError\n"
        "from fieldvoice.logbook.opening import open_logbook\n"
        "from fieldvoice.logbook.register import hives\n"
        "with open_logbook(Path(sys.argv[1])) as logbook:\n"
        "    print([hive.label for hive in hives(logbook)])\n"
        "try:\n"
        "    with open_logbook(Path(sys.argv[1]), write=True): print('written')\n"
        "except LogbookError as error: print(error)\n"
    )
    bound = ["setpriv", "--bounding-set=-dac_override,-dac_read_search"]
    done = subprocess.run(
        [*bound, sys.executable, "-c", script, str(path)],
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    path.parent.chmod(0o755)
    assert done.returncode == 0, done.stderr
    labels, refused = done.stdout.splitlines()
    assert labels == "['7']"
    assert "may not be written" in refused


def test_all_of_a_block_or_nothing(path: Path) -> None:
    with open_logbook(path, create=True) as logbook:
        with pytest.raises(ZeroDivisionError), writing(logbook):
            add_hive(logbook, "7", "home", MAY)
            raise ZeroDivisionError
        assert logbook.execute("SELECT count(*) FROM hives").fetchone()[0] == 0


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EDQUOT, errno.EFBIG])
def test_no_room_outside_the_database(path: Path, code: int) -> None:
    with pytest.raises(LogbookError, match="no room"), saying_what_is_wrong(path):
        raise OSError(code, "x")


def test_other_trouble_is_not_called_no_room(path: Path) -> None:
    with pytest.raises(OSError, match="x"), saying_what_is_wrong(path):
        raise OSError(errno.EPIPE, "x")


def test_no_room_in_the_database(path: Path) -> None:
    with (
        pytest.raises(LogbookError, match=r"no room left.*nothing was lost"),
        open_logbook(path, create=True) as logbook,
    ):
        pages = logbook.execute("PRAGMA page_count").fetchone()[0]
        logbook.execute(f"PRAGMA max_page_count = {pages + 1}")
        drafted(logbook, [SYRUP] * 2000)
    with open_logbook(path) as logbook:
        assert logbook.execute("SELECT count(*) FROM drafts").fetchone()[0] == 0
        assert logbook.execute("PRAGMA integrity_check").fetchone()[0] == "ok"


@pytest.mark.parametrize(
    ("column", "words"),
    [("kind", KINDS), ("action", ACTIONS), ("status", STATUSES), ("role", ROLES)],
)
def test_the_tables_take_the_words_of_the_contract(
    path: Path, column: str, words: tuple[str, ...]
) -> None:
    """The lists stand in the schema a second time; a word that only one has is found here."""
    with open_logbook(path, create=True) as logbook:
        for table in (
            ("drafts", "entries") if column != "role" else ("draft_values", "entry_values")
        ):
            sql = logbook.execute(
                "SELECT sql FROM sqlite_schema WHERE name = ?", [table]
            ).fetchone()[0]
            listed = sql.partition(f"{column} IN (")[2].partition(")")[0]
            assert [word.strip().strip("'") for word in listed.split(",")] == list(words)
