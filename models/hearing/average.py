"""Several adapters -> one whose B A is the mean of theirs, times a strength.

    python models/hearing/average.py OUT.npz ADAPTERS.npz... --strength 0.6

Runs that learnt differently err differently, and a part of what was learnt does nearly the
same good and less harm to what the model knew before. The sum is kept exactly: A's stand
below one another, B's side by side, each scaled by its share, so the ranks add up. Prints
the file's sha256, which models/catalog.toml must name.
"""

from __future__ import annotations

import argparse
import hashlib
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Adapter = Mapping[str, NDArray[np.floating]]


def average(adapters: Sequence[Adapter], strength: float = 1.0) -> dict[str, NDArray[np.float32]]:
    """One adapter for all; raises ValueError if they are not of the same modules."""
    modules = [{name.rpartition(".")[0] for name in one} for one in adapters]
    if any(names != modules[0] for names in modules):
        raise ValueError("the adapters are for different modules")
    share = strength / len(adapters)
    out: dict[str, NDArray[np.float32]] = {}
    for module in sorted(modules[0]):
        down = [one[f"{module}.A"].astype(np.float32) for one in adapters]
        up = [one[f"{module}.B"].astype(np.float32) * np.float32(share) for one in adapters]
        out[f"{module}.A"] = np.concatenate(down, axis=0)
        out[f"{module}.B"] = np.concatenate(up, axis=1)
    return out


def main() -> None:
    """Read, average, write as float16."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("out", type=Path)
    parser.add_argument("adapters", nargs="+", type=Path)
    parser.add_argument("--strength", type=float, default=1.0)
    options = parser.parse_args()
    read = [dict(np.load(path)) for path in options.adapters]
    made = average(read, options.strength)
    np.savez_compressed(options.out, **{k: v.astype(np.float16) for k, v in made.items()})
    print(hashlib.sha256(options.out.read_bytes()).hexdigest(), options.out)


if __name__ == "__main__":
    main()
