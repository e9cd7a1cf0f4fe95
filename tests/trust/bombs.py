"""Small files that claim or unpack to much: made from the formats' published layouts.

WAV: Microsoft/IBM, Multimedia Programming Interface 1.0 (RIFF). FLAC: RFC 9639. Ogg: RFC 3533.
"""

from __future__ import annotations

import struct
from pathlib import Path

YEAR = 365 * 24 * 3600


def wav(path: Path, seconds: int, *, rate: int = 16_000, claimed: int | None = None) -> Path:
    """Silence, 16 bit mono, as a file with a hole in it, which takes no room on the disk."""
    size = seconds * rate * 2
    said = size if claimed is None else claimed
    head = struct.pack(
        "<4sI4s4sIHHIIHH4sI", b"RIFF", min(said + 36, 2**32 - 1), b"WAVE", b"fmt ", 16, 1, 1, rate,
        rate * 2, 2, 16, b"data", said,
    )  # fmt: skip
    with path.open("wb") as file:
        file.write(head)
        file.truncate(len(head) + size)
    return path


def wav_with_notes(path: Path, claimed: int) -> Path:
    """A WAV file of some hundred bytes whose one note claims to be so long."""
    form = struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, 1, 16_000, 32_000, 2, 16)
    note = struct.pack("<4sI4s4sI", b"LIST", claimed + 12, b"INFO", b"ICRD", claimed)
    path.write_bytes(b"RIFF" + struct.pack("<I", 400) + b"WAVE" + form + note + bytes(range(256)))
    return path


def _crc(data: bytes, bits: int, polynomial: int) -> int:
    crc, top = 0, 1 << (bits - 1)
    for byte in data:
        crc ^= byte << (bits - 8)
        for _ in range(8):
            crc = ((crc << 1) ^ polynomial if crc & top else crc << 1) & ((1 << bits) - 1)
    return crc


def _coded(number: int) -> bytes:
    """RFC 9639, 9.1.5: a frame's number, coded as UTF-8 does it."""
    return chr(number).encode("utf-8", "surrogatepass")


def flac(path: Path, frames: int, *, rate: int = 16_000, claimed: int | None = None) -> Path:
    """Frames of 65,535 equal samples, each of them 15 bytes or so."""
    block = 65_535
    total = frames * block if claimed is None else claimed
    info = struct.pack(">HH", block, block) + bytes(6)
    info += ((rate << 44) | (0 << 41) | (15 << 36) | (total & (2**36 - 1))).to_bytes(8, "big")
    out = bytearray(b"fLaC" + b"\x80" + len(info + bytes(16)).to_bytes(3, "big") + info + bytes(16))
    for number in range(frames):
        head = b"\xff\xf8\x70\x08" + _coded(number) + struct.pack(">H", block - 1)
        head += bytes([_crc(head, 8, 0x07)])
        body = head + b"\x00" + struct.pack(">h", 3)
        out += body + struct.pack(">H", _crc(body, 16, 0x8005))
    path.write_bytes(out)
    return path


def late_ogg(path: Path, seconds: int) -> Path:
    """An Ogg file (made by an encoder) whose later half says that it comes so many seconds late."""
    raw = bytearray(path.read_bytes())
    pages = [at for at in range(len(raw)) if raw.startswith(b"OggS", at)]
    for at, end in list(zip(pages, [*pages[1:], len(raw)], strict=True))[len(pages) // 2 :]:
        (granule,) = struct.unpack_from("<q", raw, at + 6)
        struct.pack_into("<q", raw, at + 6, granule + seconds * 48_000)
        struct.pack_into("<I", raw, at + 22, 0)
        struct.pack_into("<I", raw, at + 22, _crc(bytes(raw[at:end]), 32, 0x04C11DB7))
    path.write_bytes(raw)
    return path
