"""Write a file whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from fieldvoice.errors import InputError


def write_whole(path: Path, text: str) -> None:
    """Write `text` to `path`; a file that was there stays as it was until all is written.

    Raises:
        InputError: the folder is missing, not permitted, or full.
    """
    write_bytes_whole(path, text.encode("utf-8"))


def write_bytes_whole(path: Path, content: bytes) -> None:
    """As `write_whole`, for what is no text."""
    scratch: str | None = None
    try:
        handle, scratch = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}-")
        with open(handle, "wb") as file:  # noqa: PTH123
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(scratch).chmod(0o666 & ~_umask())
        Path(scratch).replace(path)
    except OSError as error:
        if scratch is not None:
            Path(scratch).unlink(missing_ok=True)
        raise InputError(
            f"{path} cannot be written ({error.strerror or error}); choose another place."
        ) from error


def _umask() -> int:
    """The process's file mask; it can only be read by setting it."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
