"""Odd values and mutated texts: what files from strangers and broken programs hold."""

from __future__ import annotations

import copy
import random
from typing import Any

ODD_TEXTS = (
    "", " ", "\0", "7", "-1", "hive", "𝔥𝔦𝔳𝔢 7", "\u202e7 evih", "é" * 40, "a" * 5000, "1" * 400,
    "two to one " * 60, "<script>", "'; DROP TABLE drafts; --", "%s%n{}{0}", "../../etc/passwd",
    "\ud7ff\ufffe", "٣ quarts", "½", "1/0", "1e309", "next next next Tuesday", "2026-02-30",
    "0000-00-00", "9999-12-31T23:59:59+23:59", "\r\n\r\n", "\ufeff", "NaN", "nineteen hundred",
)  # fmt: skip
ODD_NUMBERS = (
    0, -1, 1, 1.5, -0.0, 1e308, -1e308, 5e-324, float("nan"), float("inf"), float("-inf"),
    2**31, 2**63, 2**64, 10**40, 10**400, True, False,
)  # fmt: skip


def odd(chance: random.Random, depth: int = 0) -> Any:
    """A value of any kind of JSON."""
    kind = chance.randrange(6 if depth < 3 else 4)
    if kind == 0:
        return None
    if kind == 1:
        return chance.choice(ODD_NUMBERS)
    if kind in (2, 3):
        return chance.choice(ODD_TEXTS)
    if kind == 4:
        return [odd(chance, depth + 1) for _ in range(chance.randrange(4))]
    return {chance.choice(ODD_TEXTS): odd(chance, depth + 1) for _ in range(chance.randrange(4))}


def mutated(value: Any, chance: random.Random, strokes: int = 1) -> Any:
    """A copy of a JSON value with some of its parts replaced, gone, doubled or put elsewhere."""
    whole = {"": copy.deepcopy(value)}
    for _ in range(strokes):
        holder, key = chance.choice(_places(whole))
        how = chance.randrange(5)
        if how == 0 and key != "":
            del holder[key]
        elif how == 1 and isinstance(holder[key], list) and holder[key]:
            holder[key] *= chance.choice((2, 50))
        elif how == 2:
            there, other = chance.choice(_places(whole))
            holder[key] = copy.deepcopy(there[other])
        else:
            holder[key] = odd(chance)
    return whole[""]


def _places(value: Any) -> list[tuple[Any, Any]]:
    """Every holder and key below a value; long lists by a few of their items."""
    found = []
    items = list(value.items()) if isinstance(value, dict) else list(enumerate(value))
    for key, part in items[:30]:
        found.append((value, key))
        if isinstance(part, dict | list):
            found += _places(part)
    return found


def mutated_bytes(raw: bytes, chance: random.Random) -> bytes:
    """Bytes with one to many strokes: bits, pieces gone, doubled, moved, numbers made huge."""
    data = bytearray(raw)
    for _ in range(chance.choice((1, 1, 2, 5, 20))):
        if not data:
            break
        at = chance.randrange(min(len(data), chance.choice((64, 512, 1 << 30))))
        how = chance.randrange(8)
        size = chance.choice((1, 2, 4, 8, 64, 1024))
        if how == 0:
            data[at] ^= 1 << chance.randrange(8)
        elif how == 1:
            data[at : at + size] = chance.randbytes(size)
        elif how == 2:
            data[at : at + 4] = chance.choice((b"\xff\xff\xff\xff", b"\x7f\xff\xff\xff", bytes(4)))
        elif how == 3:
            data[at : at + 8] = b"\x7f" + b"\xff" * 7
        elif how == 4:
            del data[at : at + size]
        elif how == 5:
            data[at:at] = data[at : at + size] * chance.choice((1, 1, 40))
        elif how == 6:
            del data[at:]
        else:
            there = chance.randrange(len(data))
            data[at : at + size] = data[there : there + size]
    return bytes(data)


def mutated_text(text: str, chance: random.Random) -> bytes:
    """A text with odd pieces put in, lines gone or doubled; now and then no text at all."""
    if chance.random() < 0.15:
        return mutated_bytes(text.encode(), chance)
    lines = text.splitlines(keepends=True) or [""]
    for _ in range(chance.choice((1, 1, 2, 6))):
        n = chance.randrange(len(lines))
        how = chance.randrange(5) if chance.random() < 0.98 else 5
        at = chance.randrange(len(lines[n]) + 1)
        if how == 0:
            lines[n] = lines[n][:at] + chance.choice(ODD_TEXTS) + lines[n][at:]
        elif how == 1:
            lines[n] = lines[n][:at]
        elif how == 2:
            lines.insert(n, lines[n])
        elif how == 5:
            lines[n] = chance.choice(("[", '{"":')) * 100_000 + lines[n]
        elif how == 3 and len(lines) > 1:
            del lines[n]
        else:
            words = lines[n].split(",") if "," in lines[n] else lines[n].split(" ")
            words[chance.randrange(len(words))] = chance.choice(ODD_TEXTS)
            lines[n] = ("," if "," in lines[n] else " ").join(words)
    return "".join(lines).encode("utf-8", "surrogatepass")
