"""How far apart two things of a narration stand, as the small numbers a pointer sees."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

EDGES = (-120, -60, -30, -16, -9, -5, -3, -1, 0, 1, 3, 5, 9, 16, 30, 60, 120)
FAR_SIZE = len(EDGES) + 1  # steps of signed distance in tokens
SENTENCES_SIZE = 9  # sentences apart, -4 to 4
BETWEEN_SIZE = 11  # candidates of the same sort between, -5 to 5


def places(
    froms: Sequence[int], spans: Sequence[tuple[int, int]], sentences: Sequence[int]
) -> NDArray[np.int64]:
    """Step numbers [len(froms), len(spans), 3]: distance, sentences apart, candidates between.

    Of the candidates, the nearest at or before a token has rank 0, the next one rank 1.
    """
    out = np.zeros((len(froms), len(spans), 3), np.int64)
    if not spans or not froms:
        return out
    firsts = np.array([first for first, _ in spans])
    of = np.array(sentences)
    for i, token in enumerate(froms):
        before = bisect_right(firsts, token)
        out[i, :, 0] = np.searchsorted(EDGES, firsts - token, side="right")
        out[i, :, 1] = np.clip(of[np.minimum(firsts, len(of) - 1)] - of[token], -4, 4) + 4
        out[i, :, 2] = np.clip(np.arange(len(spans)) - before + 1, -5, 5) + 5
    return out
