"""Write down what the files of a fact model are, so that no others are loaded.

    python models/extraction/seal.py [FOLDER]

After this folder's files were replaced on purpose; train.py and calibrate.py do it themselves
for what they write. `sha256sum -c SHA256SUMS` in the folder says the same by another program.
"""

from __future__ import annotations

import hashlib
import sys
from pathlib import Path

from fieldvoice.extraction.checked import FILES, SUMS


def seal(folder: Path) -> None:
    """Write the hashes of those files that the folder has."""
    there = [folder / name for name in FILES if (folder / name).is_file()]
    lines = [f"{hashlib.sha256(path.read_bytes()).hexdigest()}  {path.name}\n" for path in there]
    (folder / SUMS).write_text("".join(lines), encoding="ascii")


if __name__ == "__main__":
    seal(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
