"""A file or folder that is named on the command line."""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Any

import click


class Named(click.Path):
    """click's Path, as a pathlib.Path, that refuses a name which no file can have."""

    def __init__(self, *, dir_okay: bool = True, file_okay: bool = True, exists: bool = False):
        # whether it can be read is told by who reads it, in a sentence of its own
        super().__init__(
            exists=exists, dir_okay=dir_okay, file_okay=file_okay, readable=False, path_type=Path
        )

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Read it, or say in a sentence what is wrong with the name."""
        try:
            os.lstat(value)
        except OSError as error:
            if error.errno == errno.ENAMETOOLONG:
                self.fail(f"{str(value)[:40]!r}... is too long for a file's name.", param, ctx)
        except ValueError:
            self.fail(f"{str(value)[:40]!r} cannot be a file's name.", param, ctx)
        return super().convert(value, param, ctx)
