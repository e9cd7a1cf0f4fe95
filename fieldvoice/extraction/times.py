"""From characters of a transcript's text to seconds of the recording, and to doubt."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass

from fieldvoice.types import Transcript


@dataclass(frozen=True, slots=True)
class Timeline:
    """Words of a transcript by their place in its text."""

    starts: tuple[int, ...]  # characters
    ends: tuple[int, ...]
    times: tuple[tuple[float, float, float], ...]  # start and end in seconds, probability

    def seconds(self, start: int, end: int) -> tuple[float | None, float | None]:
        """When the characters start to end were spoken; None where that is not known."""
        first, last = self._words(start, end)
        if first >= last:
            return None, None
        return self.times[first][0], self.times[last - 1][1]

    def doubt(self, start: int, end: int) -> float:
        """The lowest word probability among the characters; 1.0 for a text without sound."""
        first, last = self._words(start, end)
        return min((p for _, _, p in self.times[first:last]), default=1.0)

    def _words(self, start: int, end: int) -> tuple[int, int]:
        return bisect_right(self.ends, start), bisect_left(self.starts, end)


def timeline(transcript: Transcript) -> Timeline:
    """Find every word of the transcript in its text."""
    starts, ends, times = [], [], []
    at = 0
    for segment in transcript.segments:
        for word in segment.words:
            said = word.word.strip()
            found = transcript.text.find(said, at) if said else -1
            if found < 0:
                continue
            at = found + len(said)
            starts.append(found)
            ends.append(at)
            times.append((word.start, word.end, word.probability))
    return Timeline(tuple(starts), tuple(ends), tuple(times))
