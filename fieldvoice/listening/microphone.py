"""The microphone, through PortAudio; unplugged and plugged in again, it goes on."""

from __future__ import annotations

import ctypes
import queue
import threading
import time
from collections.abc import Iterator
from functools import cache
from typing import Any

import numpy as np

from fieldvoice.errors import DeviceError
from fieldvoice.listening.pace import Pace
from fieldvoice.listening.source import BLOCK, Block

WANTED_RATE = 16_000  # what the recogniser hears; a device that cannot gives its own
AWAY = 2.0  # seconds without a block after which the device counts as gone
FIRST = 6.0  # seconds that it may take to begin
AGAIN = 1.0  # seconds between attempts to open it again

IN_USE = threading.Lock()
"""Held while something is played: PortAudio is not started anew under it."""

_NO_LIBRARY = (
    "The microphone needs the system's PortAudio library, which is not installed. On Debian: "
    "`sudo apt install libportaudio2`."
)


def devices() -> list[str]:
    """What can be recorded from, by name.

    Raises:
        DeviceError: PortAudio is not installed.
    """
    return [d["name"] for d in _sounddevice().query_devices() if d["max_input_channels"] > 0]


class Microphone:
    """An input device by name or number; None: the system's usual one."""

    def __init__(self, device: str | None = None) -> None:
        """Look for the device.

        Raises:
            DeviceError: no PortAudio, no such device, or it cannot be opened.
        """
        self._device: int | str | None = (
            int(device) if device is not None and device.isdigit() else device
        )
        self._queue: queue.Queue[tuple[float, Any]] = queue.Queue()
        self.rate = self._rate()
        self._stream: Any = None
        self._open()

    def _rate(self) -> int:
        sounddevice = _sounddevice()
        try:
            found = sounddevice.query_devices(self._device, "input")
        except (ValueError, sounddevice.PortAudioError) as error:
            raise DeviceError(self._none_found(error)) from error
        try:
            sounddevice.check_input_settings(
                self._device, channels=1, dtype="int16", samplerate=WANTED_RATE
            )
        except sounddevice.PortAudioError:
            return int(found["default_samplerate"])
        return WANTED_RATE

    def _none_found(self, error: Exception) -> str:
        names = ", ".join(devices()) or "none"
        wanted = f"the device {self._device!r}" if self._device is not None else "a microphone"
        return (
            f"There is no way to record from {wanted} ({error}). Plug it in, or name one with "
            f"--device (there are: {names})."
        )

    def _open(self) -> None:
        sounddevice = _sounddevice()
        try:
            self._stream = sounddevice.InputStream(
                device=self._device,
                channels=1,
                dtype="int16",
                samplerate=self.rate,
                blocksize=int(BLOCK * self.rate),
                callback=self._take,
            )
            self._stream.start()
        except (ValueError, sounddevice.PortAudioError) as error:
            self._stream = None
            raise DeviceError(self._none_found(error)) from error

    def _take(self, sound: Any, frames: int, times: Any, status: Any) -> None:
        """PortAudio's own thread: no more than a copy is made here."""
        self._queue.put((_now(), sound[:, 0].copy()))

    def blocks(self, stop: threading.Event) -> Iterator[Block]:
        """Blocks as they come; while the device is away, empty ones, then the gap."""
        pace = Pace(self.rate)
        away = False
        last = _now() + FIRST - AWAY
        try:
            while not stop.is_set():
                try:
                    at, sound = self._queue.get(timeout=BLOCK * 3)
                except queue.Empty:
                    if _now() - last > AWAY:
                        away = True
                        if self._reopen(stop):
                            last = _now() + FIRST - AWAY
                        yield Block(np.zeros(0, np.int16), why="the microphone is away")
                    continue
                last = at
                if away:
                    lost = pace.paused(at - len(sound) / self.rate)
                    away = False
                    pace.missing(at, len(sound))
                    yield Block(sound, lost, "the microphone was away")
                else:
                    yield Block(sound, pace.missing(at, len(sound)), "sound was lost")
        finally:
            self._close()

    def _reopen(self, stop: threading.Event) -> bool:
        """Try once, and tell whether it could be opened.

        PortAudio has to be started anew to see a device that came back.
        """
        sounddevice = _sounddevice()
        self._close()
        stop.wait(AGAIN)
        try:
            with IN_USE:
                sounddevice._terminate()  # its own documented way to look again
                sounddevice._initialize()
            self._open()
        except (DeviceError, sounddevice.PortAudioError):
            return False
        return True

    def _close(self) -> None:
        sounddevice = _sounddevice()
        if self._stream is not None:
            stream, self._stream = self._stream, None
            try:
                stream.abort(ignore_errors=True)
                stream.close(ignore_errors=True)
            except sounddevice.PortAudioError:
                return


def _now() -> float:
    """Seconds that go on while the computer sleeps, where the system has such a clock."""
    clock = getattr(time, "CLOCK_BOOTTIME", None)
    return time.clock_gettime(clock) if clock is not None else time.monotonic()


def _sounddevice() -> Any:
    _quiet_alsa()
    try:
        import sounddevice
    except OSError as error:  # the wheel for Linux brings no library of its own
        raise DeviceError(_NO_LIBRARY) from error
    return sounddevice


@cache
def _quiet_alsa() -> Any:
    """ALSA writes about every device that it tries to the terminal; what fails is told by us."""
    handler = ctypes.CFUNCTYPE(
        None, ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p
    )(lambda *_: None)
    try:
        ctypes.CDLL("libasound.so.2").snd_lib_error_set_handler(handler)
    except (OSError, AttributeError):
        return None  # another system
    return handler  # must live as long as the library
