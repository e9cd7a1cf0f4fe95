"""A sound server of the tests' own, whose microphone hears what is played to its loudspeaker."""

from __future__ import annotations

import os
import subprocess
import time
from dataclasses import dataclass, field
from pathlib import Path


@dataclass(slots=True)
class Server:
    """PulseAudio with one null sink; its monitor is the microphone."""

    folder: Path
    process: subprocess.Popen[bytes] | None = None
    env: dict[str, str] = field(default_factory=dict)

    def start(self) -> None:
        socket = self.folder / "sound"
        self.env = {
            "PULSE_SERVER": f"unix:{socket}",
            "PULSE_RUNTIME_PATH": str(self.folder / "run"),
            "PULSE_STATE_PATH": str(self.folder / "state"),
            "PULSE_COOKIE": str(self.folder / "cookie"),
        }
        socket.unlink(missing_ok=True)
        self.process = subprocess.Popen(
            ["pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--disable-shm=yes",
             "-L", f"module-native-protocol-unix socket={socket} auth-anonymous=1",
             "-L", "module-null-sink sink_name=field rate=16000 channels=1"],
            env=os.environ | self.env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        for _ in range(100):
            if self.call("pactl", "info") == 0:
                return
            time.sleep(0.1)
        raise AssertionError("PulseAudio did not start")

    def stop(self) -> None:
        if self.process is not None:
            self.process.terminate()
            self.process.wait(10)
            self.process = None

    def call(self, *command: str | Path) -> int:
        return subprocess.run(
            command, env=os.environ | self.env, capture_output=True, check=False
        ).returncode

    def play(self, sound: Path) -> None:
        assert self.call("paplay", sound) == 0
