"""One bar per stage with the time left, on stderr, only when a person is looking."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager

from fieldvoice.types import Progress


@contextmanager
def bars() -> Iterator[Progress]:
    """A Progress that draws a bar for each stage it is told of."""
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Rich

    columns = (TextColumn("{task.description:>10}"), BarColumn(), TimeRemainingColumn())
    console = Console(stderr=True)
    with Rich(
        *columns,
        console=console,
        disable=not console.is_terminal,
        speed_estimate_period=600,  # talk and silence take turns; a minute says little
        redirect_stdout=sys.stdout.isatty(),  # what goes to a file stays out of the bars
    ) as rich:
        tasks = {}
        last: dict[str, float] = {}

        def report(stage: str, done: float, total: float) -> None:
            if stage not in tasks:
                tasks[stage] = rich.add_task(stage, total=total)
            elif done < last[stage]:  # the next recording; its time left is counted afresh
                rich.reset(tasks[stage], total=total)
            last[stage] = done
            rich.update(tasks[stage], completed=done, total=total)

        yield report
