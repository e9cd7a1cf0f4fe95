"""Windows heard by the workers of a Dask cluster."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from fieldvoice.errors import InputError
from fieldvoice.hearing.crew import Crew

TIMEOUT = 10  # seconds for the scheduler to answer


@contextmanager
def dask_crew(address: str, folder: str = "") -> Iterator[Crew]:
    """The workers of the cluster whose scheduler is at `address` ("tcp://10.0.0.5:8786").

    fieldvoice and the weights have to be installed where the workers are.

    Raises:
        InputError: Dask is not installed, nothing answers, or the cluster has no workers.
    """
    try:
        from distributed import Client
    except ModuleNotFoundError:
        raise InputError(
            "--dask needs Dask, which is not installed. Run: pip install 'fieldvoice[dask]'"
        ) from None
    try:
        client = Client(address, timeout=TIMEOUT, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        raise InputError(
            f"No Dask scheduler answers at {address!r}. Start one with `dask scheduler` and "
            "give its address, such as tcp://127.0.0.1:8786."
        ) from error
    with client:
        workers = sum(client.nthreads().values())
        if not workers:
            raise InputError(
                f"The Dask cluster at {address} has no workers. Start some with "
                f"`dask worker {address}`."
            )
        with client.get_executor() as executor:
            yield Crew(executor, workers, folder)
