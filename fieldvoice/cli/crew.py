"""The option --dask: who hears, threads here or a cluster."""

from __future__ import annotations

from contextlib import AbstractContextManager, nullcontext
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fieldvoice.hearing.crew import Crew


def crew_at(address: str | None, folder: str) -> AbstractContextManager[Crew | None]:
    """The cluster's workers for as long as they are needed; no address: threads here.

    Raises:
        InputError: no cluster answers, or Dask is not installed.
    """
    if address is None:
        return nullcontext()
    from fieldvoice.hearing.cluster import dask_crew

    return dask_crew(address, folder)
