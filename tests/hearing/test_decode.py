from __future__ import annotations

import os
import struct
import wave
from pathlib import Path

import numpy as np
import pytest
from hearing_sounds import hum, librivox, load, write

from fieldvoice.errors import RecordingError
from fieldvoice.hearing.decode import BLOCK_SECONDS, RATE, SUFFIXES, Decoding, decode, sound_hash

FORMATS = [
    # file, codec, rate, layout
    ("a.wav", "pcm_s16le", 16_000, "mono"),
    ("eight-bit.wav", "pcm_u8", 8_000, "mono"),
    ("studio.wav", "pcm_s24le", 96_000, "stereo"),
    ("float.wav", "pcm_f32le", 48_000, "stereo"),
    ("a.mp3", "libmp3lame", 44_100, "mono"),
    ("a.m4a", "aac", 44_100, "stereo"),
    ("a.aac", "aac", 48_000, "mono"),
    ("a.ogg", "vorbis", 44_100, "stereo"),
    ("a.opus", "libopus", 48_000, "mono"),
    ("a.flac", "flac", 96_000, "stereo"),
    ("a.webm", "libopus", 48_000, "stereo"),
    ("a.mp4", "aac", 44_100, "mono"),
    ("a.mov", "pcm_s16le", 44_100, "stereo"),
]


@pytest.fixture(scope="module")
def speech() -> np.ndarray:
    return load(librivox()[0][0])


@pytest.mark.parametrize(("name", "codec", "rate", "layout"), FORMATS)
def test_every_format_gives_the_same_sound(
    tmp_path: Path, speech: np.ndarray, name: str, codec: str, rate: int, layout: str
) -> None:
    path = write(tmp_path / name, speech, codec, rate=rate, layout=layout)
    decoding = Decoding()
    sound = np.concatenate(list(decode(path, decoding)))

    assert path.suffix in SUFFIXES
    assert sound.dtype == np.float32
    assert decoding.damaged == 0
    assert decoding.duration == pytest.approx(len(speech) / RATE, abs=0.1)
    assert decoding.duration == pytest.approx(len(sound) / RATE)
    assert correlation(sound, speech) > 0.9


def correlation(a: np.ndarray, b: np.ndarray) -> float:
    """The best normalised correlation within 100 ms; codecs delay what they encode."""
    n = min(len(a), len(b))
    a, b = a[:n], b[:n]
    both = np.fft.irfft(np.fft.rfft(a, 2 * n) * np.conj(np.fft.rfft(b, 2 * n)))
    near = np.concatenate([both[:1600], both[-1600:]])
    return float(near.max() / np.sqrt((a**2).sum() * (b**2).sum()))


def test_a_video_without_sound_is_refused(tmp_path: Path) -> None:
    import av

    path = tmp_path / "silent.mp4"
    with av.open(str(path), "w") as out:
        stream = out.add_stream("mpeg4", rate=10)
        stream.width, stream.height, stream.pix_fmt = 64, 64, "yuv420p"
        frame = av.VideoFrame.from_ndarray(np.zeros((64, 64, 3), np.uint8), format="rgb24")
        for _ in range(10):
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    with pytest.raises(RecordingError, match="no sound track"):
        list(decode(path))


def test_an_empty_file_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    path.touch()
    with pytest.raises(RecordingError, match="empty"):
        list(decode(path))


def test_text_named_wav_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    path.write_text("hive seven two frames of brood\n" * 100)
    with pytest.raises(RecordingError, match="no sound recording"):
        list(decode(path))


def test_sound_of_no_length_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    with wave.open(str(path), "wb") as out:
        out.setparams((1, 2, 16_000, 0, "NONE", ""))
    with pytest.raises(RecordingError, match="has no length"):
        list(decode(path))


def test_a_folder_and_a_missing_file_are_refused(tmp_path: Path) -> None:
    with pytest.raises(RecordingError, match="folder"):
        list(decode(tmp_path))
    with pytest.raises(RecordingError, match="no such file"):
        sound_hash(tmp_path / "a.wav")


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such permission bits")
def test_a_file_without_permission_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(b"RIFF")
    path.chmod(0)
    if os.geteuid() == 0:  # root may read anything: let the system call answer as for others

        def refuse(*_: object, **__: object) -> None:
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(RecordingError, match="permission"):
        list(decode(path))


def test_a_truncated_mp3_is_decoded_as_far_as_it_goes(tmp_path: Path, speech: np.ndarray) -> None:
    path = write(tmp_path / "a.mp3", speech, "libmp3lame", rate=44_100)
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    decoding = Decoding()
    list(decode(path, decoding))
    assert decoding.duration == pytest.approx(len(speech) / RATE / 2, rel=0.15)


def test_damaged_frames_are_counted_not_hidden(tmp_path: Path, speech: np.ndarray) -> None:
    path = write(tmp_path / "a.flac", speech, "flac")
    raw = bytearray(path.read_bytes())
    middle = len(raw) // 2
    raw[middle : middle + 3000] = bytes(3000)
    path.write_bytes(raw)
    decoding = Decoding()
    sound = np.concatenate(list(decode(path, decoding)))
    assert decoding.damaged > 0
    # What is lost is silence now: the end is still where it was.
    assert len(sound) == len(speech)
    assert correlation(sound[-RATE:], speech[-RATE:]) > 0.99


def test_blocks_are_bounded(tmp_path: Path) -> None:
    path = write(tmp_path / "a.flac", hum(65), "flac")
    blocks = list(decode(path))
    assert len(blocks) >= 6
    assert max(map(len, blocks)) < (BLOCK_SECONDS + 1) * RATE


def test_a_header_that_lies_about_its_length_does_no_harm(
    tmp_path: Path, speech: np.ndarray
) -> None:
    path = write(tmp_path / "a.wav", speech, "pcm_s16le")
    raw = bytearray(path.read_bytes())
    at = raw.index(b"data") + 4
    raw[at : at + 4] = struct.pack("<I", 0xFFFFFFFF)
    path.write_bytes(raw)
    assert len(np.concatenate(list(decode(path)))) == pytest.approx(len(speech), abs=1600)


def test_the_hash_is_of_the_content_not_the_name(tmp_path: Path) -> None:
    (tmp_path / "a.wav").write_bytes(b"abc")
    (tmp_path / "b.wav").write_bytes(b"abc")
    # FIPS 180-2, appendix B.1: SHA-256 of "abc"
    known = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert sound_hash(tmp_path / "a.wav") == sound_hash(tmp_path / "b.wav") == known
