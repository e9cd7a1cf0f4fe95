"""Who works on the windows: threads of this process, or any executor's workers elsewhere.

A worker in another process, or on another machine, cannot be handed a loaded model. It is
told what to load, and keeps it for the windows to come.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from threading import Lock

from threadpoolctl import threadpool_limits

from fieldvoice.hearing.store import Heard
from fieldvoice.hearing.vocabulary import Vocabulary
from fieldvoice.hearing.window import Ear, hear_window, open_ear
from fieldvoice.hearing.windows import Window


@dataclass(frozen=True, slots=True)
class Crew:
    """Workers in other processes, by any `concurrent.futures` executor."""

    executor: Executor
    workers: int  # windows they work on at a time
    folder: str = ""  # a model folder of the user's own, where the workers are


@dataclass(frozen=True, slots=True)
class Order:
    """What a worker elsewhere has to load before it can hear."""

    engine: str
    model: str
    second: bool
    folder: str
    vocabulary: Vocabulary


class Shift:
    """Windows are handed in and come back heard, as futures."""

    def __init__(self, ear: Ear, executor: Executor, workers: int, order: Order | None) -> None:
        self._ear, self._executor, self._order = ear, executor, order
        self.workers = workers

    def hear(self, window: Window) -> Future[Heard]:
        """Start on a window as soon as somebody is free."""
        if self._order is None:
            return self._executor.submit(hear_window, self._ear, window)
        return self._executor.submit(hear_there, self._order, window)


@contextmanager
def shift(ear: Ear, crew: Crew | None) -> Iterator[Shift]:
    """The crew's workers, or as many threads of this process as the engine can use."""
    if crew is None:
        workers = ear.engine.workers
        # The workers are threads already: NumPy's own threads would only fight with them.
        with (
            threadpool_limits(1, "blas"),
            ThreadPoolExecutor(workers, thread_name_prefix="hear") as pool,
        ):
            yield Shift(ear, pool, workers, None)
        return
    order = Order(
        ear.engine.name, ear.engine.model, ear.second is not None, crew.folder, ear.vocabulary
    )
    yield Shift(ear, crew.executor, crew.workers, order)


_LOADED: dict[str, Ear] = {}  # in a worker's process: the last order's ear
_TURN = Lock()


def hear_there(order: Order, window: Window) -> Heard:
    """Hear one window in a worker's process; models are loaded for the first one."""
    with threadpool_limits(1, "blas"):
        return hear_window(_ear_for(order), window)


def _ear_for(order: Order) -> Ear:
    from fieldvoice.hearing.engines.load import load_engine, load_second

    with _TURN:
        known = repr(order)
        if known not in _LOADED:
            engine = load_engine(order.engine, order.model, order.folder)
            second = load_second(order.model, order.folder) if order.second else None
            _LOADED.clear()
            _LOADED[known] = open_ear(engine, order.vocabulary, second)
        return _LOADED[known]
