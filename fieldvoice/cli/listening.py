"""What `fieldvoice listen` does while it records: hear along, and answer signals."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from fieldvoice.cli.opened import now
from fieldvoice.errors import FieldvoiceError
from fieldvoice.listening.own import ANSWER
from fieldvoice.settings import Settings
from fieldvoice.types import Register, Signal, Transcript, Word

if TYPE_CHECKING:
    from fieldvoice.cli.listen import Screen
    from fieldvoice.listening.flac import Samples
    from fieldvoice.listening.live import Live
    from fieldvoice.listening.pieces import PieceWriter
    from fieldvoice.listening.running import Running
    from fieldvoice.listening.voice import Phase, Voice
    from fieldvoice.listening.wording import Wording

_ECHO = 0.4  # seconds for which a room may give an answer back


@dataclass(frozen=True, slots=True)
class Along:
    """What is wanted while it is recorded."""

    stop: threading.Event
    signals: bool = True
    tones: bool = False


@contextmanager
def along(
    path: Path, settings: Settings, writer: PieceWriter, screen: Screen, wanted: Along
) -> Iterator[_Both | None]:
    """A listener for `record`, closed when the recording is over; None if none is wanted."""
    if not (wanted.signals or screen.words):
        yield None
        return
    from fieldvoice.listening.live import Live, Told
    from fieldvoice.listening.voice import Voice
    from fieldvoice.listening.wording import load_wording
    from fieldvoice.pipeline import ear_of

    wording = load_wording(path.parent)
    register = _register(path, settings.yard)
    answers = _Answers(writer, screen, wording, register, settings, wanted)
    answers.voice = Voice(answers.around, tones=wanted.tones)
    told = Told(answers.words, answers.signal, answers.not_understood, answers.behind)
    live = answers.live = Live(
        lambda: ear_of(settings, register, path.parent), wording, told, writer.rate
    )
    with _running(path, settings, register, answers, live if screen.words else None) as running:
        try:
            yield _Both(live, running)
        finally:
            live.close()
            answers.voice.close()


@dataclass(frozen=True, slots=True)
class _Both:
    """Short windows for what is shown and answered, long ones for what is kept."""

    live: Live
    running: Running | None

    def hear(self, sound: Samples) -> None:
        self.live.hear(sound)
        if self.running is not None:
            self.running.hear(sound)


@contextmanager
def _running(
    path: Path, settings: Settings, register: Register, answers: _Answers, live: Live | None
) -> Iterator[Running | None]:
    """Hear the recording in long windows while it is made, so that little is left at its end.

    What is settled by then is drafted, so that it can be reviewed before the end.

    It is a head start: if it fails, all is heard at the end, and what is wrong is told then.
    """
    from fieldvoice.cli.listen import RECORDINGS
    from fieldvoice.hearing.decode import RATE
    from fieldvoice.listening.running import Running
    from fieldvoice.logbook.opening import open_logbook
    from fieldvoice.logbook.windows import Windows
    from fieldvoice.pipeline import AddOptions, Growing, draft_so_far, hear_running

    writer = answers.writer
    if live is None or writer.rate != RATE:
        yield None
        return
    running = Running(writer.session, busy=live.busy)

    def work() -> None:
        with suppress(FieldvoiceError), open_logbook(path, create=True) as logbook:
            growing = Growing(writer.folder, path.parent / RECORDINGS, settings.yard)
            options = AddOptions(settings=settings, signals=path.parent, clock=now)

            def so_far(transcript: Transcript) -> None:
                if running.ended:
                    return
                number = None
                with suppress(FieldvoiceError):  # decided on at this moment: the next time
                    number = draft_so_far(logbook, growing, transcript, options)
                if number is not None:
                    answers.drafted(number)

            running.so_far = so_far
            hear_running(running, register, settings, Windows(logbook), path.parent)

    thread = threading.Thread(target=work, name="running", daemon=True)
    thread.start()
    try:
        yield running
    finally:
        running.end()
        thread.join()


def _register(path: Path, yard: str) -> Register:
    from fieldvoice.logbook.opening import open_logbook
    from fieldvoice.logbook.register import read_register

    with open_logbook(path, create=True) as logbook:
        return read_register(logbook, yard)


@dataclass(slots=True)
class _Answers:
    """Told by the live hearing; writes, says, marks."""

    writer: PieceWriter
    screen: Screen
    wording: Wording
    register: Register
    settings: Settings
    wanted: Along
    voice: Voice | None = None
    live: Live | None = None
    _began: int = 0

    def words(self, words: Sequence[Word]) -> None:
        if self.screen.words:
            self.screen.say(" ".join(word.word.strip() for word in words))

    def signal(self, signal: Signal, before: Transcript) -> None:
        if not self.wanted.signals:
            return
        self.writer.given(signal)
        text = self._answer(signal, before)
        self.screen.say(f"> {text}")
        if self.voice is not None:
            self.voice.answer(text)
        if signal.name == "stop":
            self.wanted.stop.set()

    def _answer(self, signal: Signal, before: Transcript) -> str:
        answer = self.wording.signals[signal.name].answer
        row = self._last_row(before) if "{row}" in answer else ""
        return answer.replace("{rest}", signal.rest.rstrip(".,;!? ")).replace("{row}", row)

    def _last_row(self, before: Transcript) -> str:
        from fieldvoice.listening.aloud import rows_aloud
        from fieldvoice.listening.effects import SCRATCHED, with_effects, without_signals
        from fieldvoice.pipeline import extract_drafts

        plain = without_signals(before, self.wording)
        rows = extract_drafts(plain, now(), self.register, self.settings)
        rows = with_effects(rows, before, self.register.labels)
        return rows_aloud([row for row in rows if SCRATCHED not in row.flags])

    def drafted(self, number: int) -> None:
        self.screen.say(f"{number} drafts by now; `fieldvoice review` shows them.")

    def not_understood(self, second: float) -> None:
        if self.wanted.signals:
            self.screen.say("> not understood")
            if self.voice is not None:
                self.voice.not_understood()

    def behind(self, second: float) -> None:
        from fieldvoice.plain import clock

        self.screen.say(f"This computer is behind; {clock(second)} will be heard at the end.")

    def around(self, said: str, phase: Phase) -> None:
        """The recorder's own voice is in the recording too: its place is noted."""
        if phase == "begins":
            self._began = self.writer.place
            return
        end = self.writer.place + int(_ECHO * self.writer.rate)
        self.writer.answered(self._began, end, said)
        if self.live is not None:
            start, until = self._began / self.writer.rate, end / self.writer.rate
            self.live.spoke(Signal(ANSWER, start, until, until, said))
