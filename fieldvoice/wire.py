"""Transcripts, entries and registers as JSON, and back.

The shapes are the contract of the command line: `transcribe --json` writes what
`extract` reads, `extract --json` writes what the scorer reads.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

from fieldvoice.errors import InputError
from fieldvoice.types import (
    ACTIONS,
    KINDS,
    ROLES,
    STATUSES,
    Because,
    Doubt,
    Entry,
    Json,
    Reading,
    Register,
    Segment,
    Signal,
    Stretch,
    Transcript,
    Value,
    When,
    Word,
)

LONGEST_TEXT = 900_000  # characters
LONGEST_WORD = 1_000  # characters


def transcript_to_json(transcript: Transcript) -> Json:
    """The shape that `fieldvoice transcribe --json` prints; seconds to the millisecond."""
    return {
        "text": transcript.text,
        "language": transcript.language,
        "engine": transcript.engine,
        "model": transcript.model,
        "duration": round(transcript.duration, 3),
        "segments": [
            {
                "start": round(s.start, 3),
                "end": round(s.end, 3),
                "text": s.text,
                "words": [
                    {
                        "word": w.word,
                        "start": round(w.start, 3),
                        "end": round(w.end, 3),
                        "probability": round(w.probability, 4),
                    }
                    for w in s.words
                ],
            }
            for s in transcript.segments
        ],
        "speech": [_stretch(s) for s in transcript.speech],
        "unheard": [_stretch(s) for s in transcript.unheard],
        "doubts": [
            {
                "start": round(d.start, 3),
                "end": round(d.end, 3),
                "kind": d.kind,
                "heard": d.heard,
                "readings": [{"text": r.text, "score": round(r.score, 3)} for r in d.readings],
            }
            for d in transcript.doubts
        ],
        "signals": [
            {
                "name": s.name,
                "start": round(s.start, 3),
                "end": round(s.end, 3),
                "until": round(s.until, 3),
                "said": s.said,
                "rest": s.rest,
            }
            for s in transcript.signals
        ],
    }


def _stretch(stretch: Stretch) -> Json:
    return {"start": round(stretch.start, 3), "end": round(stretch.end, 3)}


def transcript_from_json(raw: Any, name: str = "transcript") -> Transcript:
    """Read a transcript; only "text" or "segments" must be there.

    Raises:
        InputError: the JSON is not a transcript.
    """
    if not isinstance(raw, dict) or not ("text" in raw or "segments" in raw):
        raise InputError(
            f'{name}: no transcript in it; it needs "text" or "segments" as `fieldvoice '
            "transcribe --json` writes them."
        )
    try:
        segments = tuple(
            Segment(
                float(s["start"]),
                float(s["end"]),
                str(s["text"]),
                tuple(
                    Word(
                        str(w["word"]),
                        float(w["start"]),
                        float(w["end"]),
                        float(w.get("probability", 1.0)),
                    )
                    for w in s.get("words") or ()
                ),
            )
            for s in raw.get("segments") or ()
        )
        text = raw.get("text")
        return Transcript(
            text=str(text) if text is not None else " ".join(s.text.strip() for s in segments),
            language=str(raw.get("language") or "en"),
            engine=str(raw.get("engine") or ""),
            model=str(raw.get("model") or ""),
            duration=float(raw.get("duration") or (segments[-1].end if segments else 0.0)),
            segments=segments,
            speech=_stretches(raw.get("speech")),
            unheard=_stretches(raw.get("unheard")),
            doubts=tuple(
                Doubt(
                    float(d["start"]),
                    float(d["end"]),
                    str(d.get("kind", "word")),
                    str(d.get("heard", "")),
                    tuple(
                        Reading(str(r["text"]), float(r["score"])) for r in d.get("readings") or ()
                    ),
                )
                for d in raw.get("doubts") or ()
            ),
            signals=tuple(
                Signal(
                    str(s["name"]),
                    float(s["start"]),
                    float(s["end"]),
                    float(s.get("until", s["end"])),
                    str(s.get("said", "")),
                    str(s.get("rest", "")),
                )
                for s in raw.get("signals") or ()
            ),
        )
    except (AttributeError, KeyError, TypeError, ValueError, OverflowError) as error:
        raise InputError(
            f"{name}: a field of the transcript is missing or of the wrong kind ({error!r}); "
            "write it as `fieldvoice transcribe --json` does."
        ) from error


def _stretches(raw: Any) -> tuple[Stretch, ...]:
    return tuple(Stretch(float(s["start"]), float(s["end"])) for s in raw or ())


def entry_to_json(entry: Entry, *, explain: bool = False) -> Json:
    """One row as the contract has it; `when` only if the row has one."""
    out: Json = {
        "hive": entry.hive,
        "kind": entry.kind,
        "action": entry.action,
        "item": entry.item,
        "status": entry.status,
        "values": [
            {
                "role": v.role,
                "lo": v.lo,
                "hi": v.hi,
                "unit": v.unit,
                "approx": v.approx,
                "said": v.said,
            }
            for v in entry.values
        ],
    }
    if entry.when:
        out["when"] = {
            "from": entry.when.from_.isoformat() if entry.when.from_ else None,
            "to": entry.when.to.isoformat() if entry.when.to else None,
        }
    out |= {
        "details": dict(entry.details),
        "quote": entry.quote,
        "start": entry.start,
        "end": entry.end,
        "confidence": round(entry.confidence, 3),
        "flags": list(entry.flags),
    }
    if explain:
        out["because"] = [
            {"field": b.field, "words": b.words, "rule": b.rule, "score": b.score}
            for b in entry.because
        ]
    return out


def entry_from_json(raw: Mapping[str, Any]) -> Entry:
    """Read one row back.

    Raises:
        InputError: a field is missing or of the wrong kind.
    """
    try:
        when = raw.get("when")
        return Entry(
            hive=_text(raw["hive"]) if raw.get("hive") is not None else None,
            kind=_one_of(raw["kind"], KINDS),
            action=_one_of(raw["action"], ACTIONS),
            item=_text(raw.get("item") or ""),
            status=_one_of(raw["status"], STATUSES),
            values=tuple(_value(v) for v in raw.get("values") or ()),
            when=When(_day(when.get("from")), _day(when.get("to"))) if when else None,
            details={str(k): str(v) for k, v in (raw.get("details") or {}).items()},
            quote=_text(raw.get("quote") or ""),
            start=_number(raw["start"]) if raw.get("start") is not None else None,
            end=_number(raw["end"]) if raw.get("end") is not None else None,
            confidence=min(1.0, max(0.0, _number(raw.get("confidence") or 0.0))),
            flags=tuple(map(_text, raw.get("flags") or ())),
            because=tuple(
                Because(b["field"], b["words"], b["rule"], b.get("score"))
                for b in raw.get("because") or ()
            ),
        )
    except (AttributeError, KeyError, TypeError, ValueError, OverflowError) as error:
        raise InputError(f"a row cannot be read ({error!r}).") from error


def _value(raw: Mapping[str, Any]) -> Value:
    low, high = _number(raw["lo"]), _number(raw["hi"])
    if high < low:
        raise ValueError(f"{low} to {high} runs backwards")
    unit = raw.get("unit")
    return Value(
        _one_of(raw["role"], ROLES),
        low,
        high,
        None if unit is None else _text(unit),
        bool(raw.get("approx", False)),
        _text(raw.get("said") or ""),
    )


def _text(raw: Any) -> str:
    if not isinstance(raw, str):
        raise TypeError(f"{raw!r} is no text")
    return raw


def _one_of(raw: Any, words: Sequence[str]) -> str:
    if raw not in words:
        raise ValueError(f"{raw!r} is none of {', '.join(words)}")
    return str(raw)


def _number(raw: Any) -> float:
    number = float(raw)
    if not math.isfinite(number):
        raise ValueError(f"{raw!r} is no number")
    return number


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def read_text_or_transcript(path: Path) -> Transcript | str:
    """A plain text, or the transcript if the file is one of `fieldvoice transcribe --json`.

    Raises:
        InputError: the file cannot be read, or is JSON but no transcript.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(
            f"{path} cannot be read as text ({error}); give a UTF-8 text file."
        ) from error
    if text.lstrip().startswith(("{", "[")):
        try:
            transcript = transcript_from_json(json.loads(text), path.name)
        except (ValueError, RecursionError):
            if path.suffix == ".json":
                raise InputError(
                    f"{path} is named .json but is not JSON; write it again."
                ) from None
        else:
            _check_speech(path, transcript.text)
            return transcript
    _check_speech(path, text)
    return text


def _check_speech(path: Path, text: str) -> None:
    """Refuse what nobody can have said before hours are spent on it."""
    if len(text) > LONGEST_TEXT:
        raise InputError(
            f"{path} has {len(text)} characters, more than a day's talk; split it into parts."
        )
    longest = max(map(len, text.split()), default=0)
    if longest > LONGEST_WORD:
        raise InputError(
            f"{path} has a word of {longest} characters, so it is no speech; give the text that "
            "was said, or a transcript of `fieldvoice transcribe`."
        )


def asked_in(body: bytes) -> Json:
    """What a request to one of the pages asks for.

    Raises:
        InputError: the body is no JSON, or no object.
    """
    try:
        asked = json.loads(body)
    except (ValueError, RecursionError) as error:
        raise InputError("The request is no JSON.") from error
    if not isinstance(asked, dict):
        raise InputError("The request is no JSON object.")
    return asked


def read_time(text: str) -> datetime:
    """An ISO date or time, made aware with the local offset if it names none.

    Raises:
        InputError: it is no date.
    """
    try:
        at = datetime.fromisoformat(text)
    except ValueError as error:
        raise InputError(
            f"{text!r} is not a date and time; write it as 2026-05-03T09:30."
        ) from error
    return at if at.tzinfo else at.astimezone()


def read_register(path: Path) -> Register:
    """A JSON list of hive labels, in walking order.

    Raises:
        InputError: no file, no JSON, or not a list of labels.
    """
    try:
        raw = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as error:
        raise InputError(f"The register {path} cannot be read as JSON ({error}).") from error
    if not _is_labels(raw):
        raise InputError(
            f'The register {path} must be a JSON list of hive labels, such as ["7", "A3", "nuc 2"].'
        )
    return Register(tuple(str(label) for label in raw))


def _is_labels(raw: Any) -> bool:
    return (
        isinstance(raw, Sequence)
        and not isinstance(raw, str)
        and all(isinstance(label, str | int) for label in raw)
    )
