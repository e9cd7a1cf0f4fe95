"""The files of the fact model, read only if they are those that were sealed.

SHA256SUMS beside them holds what `sha256sum` prints; models/extraction/seal.py writes it.
What was looked at is what is loaded: the bytes are read once. The hashes are taken every
time, 25 ms for all of them, so no note of an earlier look has to be trusted.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

from fieldvoice.errors import ModelError
from fieldvoice.locate import shipped

SUMS = "SHA256SUMS"
FILES = ("confidence.json", "encoder.onnx", "heads.npz", "tokenizer.json", "vocabulary.json")


def model_folder() -> Path:
    """Where the fact model lies that came with the program."""
    return shipped("models") / "extraction"


def checked(path: Path) -> bytes:
    """The bytes of a file of the model.

    Raises:
        ModelError: it or the list of hashes is missing, or it is not the file that was sealed.
    """
    try:
        content = path.read_bytes()
        wanted = _sums(path.with_name(SUMS)).get(path.name)
    except (OSError, ValueError) as error:
        raise ModelError(
            f"The fact model's file {path} cannot be read ({error}); install fieldvoice again."
        ) from error
    found = hashlib.sha256(content).hexdigest()
    if found != wanted:
        should = f"{wanted[:12]}…" if wanted else f"in {SUMS}"
        raise ModelError(
            f"{path}: this is not the file that belongs to the fact model (sha256 {found[:12]}…, "
            f"it should be {should}); install fieldvoice again."
        )
    return content


def _sums(path: Path) -> dict[str, str]:
    """Names and their hashes, as `sha256sum` writes them."""
    lines = path.read_text(encoding="ascii").splitlines()
    return {name: digest for digest, _, name in (line.partition("  ") for line in lines)}
