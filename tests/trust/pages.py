"""A keeper at the review page, whose server is struck while they decide."""

from __future__ import annotations

import os
import random
import re
import subprocess
from dataclasses import dataclass, field
from pathlib import Path

import httpx

from tests.makers import query

STARTS = 30.0  # seconds


@dataclass(slots=True)
class Visit:
    """What the page told, and what it must have kept."""

    confirmed: set[str] = field(default_factory=set)  # rows it said it had kept
    said: str = ""
    died: bool = False
    problems: list[str] = field(default_factory=list)

    def lost(self, path: Path) -> int:
        """Rows that the page said it had kept and that are not in the log."""
        there = {uuid for (uuid,) in query(path, "SELECT uuid FROM entries")}
        return len(self.confirmed - there)


def visit_page(
    words: list[str], path: Path, before: tuple[str, ...], chance: random.Random
) -> Visit:
    """Serve the page, decide on every waiting row, and stop it; it may die on the way."""
    visit = Visit()
    with subprocess.Popen(
        [*before, *words], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        env=os.environ | {"PYTHONUNBUFFERED": "1"}, start_new_session=True,
    ) as server:  # fmt: skip
        assert server.stdout is not None
        first = server.stdout.readline()
        link = re.search(r"(http://[^/\s]+)/enter\?token=\S+", first)
        try:
            if link is None:
                visit.said = first.strip()
                visit.died = not first
                if "Traceback" in first or "unforeseen" in first:
                    visit.problems.append(first + server.stdout.read())
            else:
                _decide(link[0], link[1], path, visit, chance)
        finally:
            server.poll() is None and os.killpg(server.pid, 15)
            server.wait(STARTS)
        if "Traceback" in (rest := server.stdout.read()):
            visit.problems.append(rest[-800:])
    return visit


def _decide(link: str, site: str, path: Path, visit: Visit, chance: random.Random) -> None:
    waiting = query(
        path,
        "SELECT recordings.uuid, drafts.uuid, version, hive FROM drafts"
        " JOIN recordings ON recordings.id = recording_id WHERE state = 'waiting'",
    )
    chance.shuffle(waiting)
    with httpx.Client(base_url=site, headers={"origin": site}, timeout=STARTS) as client:
        try:
            client.get(link)
            for recording, row, version, hive in waiting:
                rows, act = (
                    [[row, version]],
                    chance.choice(("confirm", "confirm", "edit", "assign")),
                )
                asked = {"act": act, "rows": rows, "confirm": True}
                if act == "edit":
                    asked["fields"] = {"status": "planned"}
                elif act == "assign":
                    asked["hive"] = hive or "8"
                told = client.post(f"/recordings/{recording}/decide", json=asked)
                if told.status_code == 200:
                    visit.confirmed.add(row)
                else:
                    visit.said = told.json()["problem"]
                    if told.status_code != 507:
                        visit.problems.append(f"{told.status_code}: {visit.said}")
        except httpx.TransportError:
            visit.died = True  # as was wanted
