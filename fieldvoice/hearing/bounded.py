"""PyAV, with a bound on what a few bytes of a file can make FFmpeg reserve.

A note in a file's header may claim to be as long as it likes, and FFmpeg makes room for what
is claimed, up to two gigabytes, before it sees that the file ends. FFmpeg has a bound for one
reservation; PyAV has no word for it, so it is set in the library that PyAV brings.
"""

from __future__ import annotations

import ctypes
from functools import cache
from pathlib import Path
from types import ModuleType

MOST_AT_ONCE = 256 * 1024**2
"""Bytes; a frame of sound, a cover picture and an index of a day stay far below it."""


@cache
def pyav() -> ModuleType:
    """The module `av`, bounded once for this process, that says nothing on its own."""
    import av

    av.logging.set_level(av.logging.PANIC)  # complaints are counted and reported instead
    for library in _libraries(Path(av.__file__).parent):
        bound = getattr(ctypes.CDLL(str(library)), "av_max_alloc", None)
        if bound is not None:
            bound.argtypes, bound.restype = [ctypes.c_size_t], None
            bound(MOST_AT_ONCE)
    module: ModuleType = av
    return module


def _libraries(package: Path) -> list[Path]:
    """FFmpeg's basic library where PyAV's wheels keep it: Linux and Windows, macOS."""
    folders = (package.with_name("av.libs"), package / ".dylibs")
    names = ("libavutil*.so*", "avutil*.dll", "libavutil*.dylib")
    return [path for folder in folders for name in names for path in folder.glob(name)]
