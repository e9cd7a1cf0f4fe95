"""Damage to a file's bytes, as worn cards, broken copies and failing disks do it."""

from __future__ import annotations

import contextlib
import random
import sqlite3
from pathlib import Path


def damage_file(path: Path, chance: random.Random) -> str:
    """Damage a file somewhere; says how."""
    raw = bytearray(path.read_bytes())
    how = chance.choice(("bits", "zeros", "cut short", "noise", "head", "doubled", "piece gone"))
    at = chance.randrange(len(raw))
    if how == "bits":
        for _ in range(chance.choice((1, 8, 200))):
            raw[chance.randrange(len(raw))] ^= 1 << chance.randrange(8)
    elif how == "zeros":
        end = min(len(raw), at + chance.choice((512, 4096, 65536)))
        raw[at:end] = bytes(end - at)
    elif how == "cut short":
        del raw[at:]
    elif how == "noise":
        end = min(len(raw), at + chance.choice((16, 512, 4096)))
        raw[at:end] = chance.randbytes(end - at)
    elif how == "head":
        at = 0
        raw[:64] = chance.randbytes(64)
    elif how == "doubled":
        raw[at:at] = raw[: chance.randrange(len(raw))]
    else:
        del raw[at : at + chance.choice((1, 512, 8192))]
    path.write_bytes(raw)
    return f"{how} at byte {at}"


def damage_logbook(path: Path, chance: random.Random) -> str:
    """Damage pages of a logbook that nobody has open; says how."""
    with contextlib.closing(sqlite3.connect(path)) as database:
        database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        size = database.execute("PRAGMA page_size").fetchone()[0]
    raw = bytearray(path.read_bytes())
    pages = len(raw) // size
    number = chance.choice((1, 1, 3, 10))
    how = chance.choice(("noise", "zeros", "swapped", "cut short", "another page", "first page"))
    hit = sorted(chance.sample(range(1, pages), min(number, pages - 1)))
    if how == "cut short":
        del raw[chance.randrange(size, len(raw)) :]
    elif how == "first page":
        hit, start = [0], chance.choice((16, 24, 100))
        raw[start : start + 60] = chance.randbytes(60)
    for page in hit:
        place = slice(page * size, (page + 1) * size)
        if how == "noise":
            raw[place] = chance.randbytes(size)
        elif how == "zeros":
            raw[place] = bytes(size)
        elif how in ("swapped", "another page"):
            other = chance.randrange(1, pages)
            there = slice(other * size, (other + 1) * size)
            if how == "swapped":
                raw[place], raw[there] = raw[there], raw[place]
            else:
                raw[place] = raw[there]
    path.write_bytes(raw)
    return f"{how}, pages {[page + 1 for page in hit]} of {pages}"
