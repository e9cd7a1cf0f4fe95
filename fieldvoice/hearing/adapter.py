"""An adapter: what a speech model was taught after it was made, as a small addition to its weights.

Low-rank adaptation (Hu et al. 2021): for a layer's weight W the adapter holds two thin
matrices A and B, and the layer then works with W + B A. They are added to the file once,
so hearing with an adapter takes no more time than without.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from fieldvoice.errors import ModelError
from fieldvoice.hearing import convert


def apply_adapter(model_bin: Path, adapter: Path) -> None:
    """Add `adapter` (.npz with "<layer>.A", rank x in, and "<layer>.B", out x rank) in place.

    Layers have openai-whisper's names; `model_bin` is CTranslate2's float16 file.

    Raises:
        ModelError: the adapter is no such file, or it was made for another model.
    """
    weights = convert.state_dict(convert.read_model_bin(model_bin, change=True))
    try:
        with np.load(adapter, allow_pickle=False) as pairs:
            for layer in [name.removesuffix(".A") for name in pairs.files if name.endswith(".A")]:
                weight = weights[f"{layer}.weight"]
                added = pairs[f"{layer}.B"].astype(np.float32) @ pairs[f"{layer}.A"]
                weight[...] = weight + added
    except (OSError, ValueError, KeyError) as error:
        raise ModelError(
            f"{adapter}: this does not fit the speech model ({error}). Install fieldvoice again."
        ) from error
