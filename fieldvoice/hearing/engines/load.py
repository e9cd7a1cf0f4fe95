"""Choose an engine and load it with a model's weights."""

from __future__ import annotations

from fieldvoice.errors import InputError, ModelError
from fieldvoice.hearing.engines import Adviser, Engine
from fieldvoice.hearing.memory import few_heaps
from fieldvoice.hearing.weights import find_weights

ENGINES = ("auto", "whisper", "ctranslate2")


def load_engine(engine: str = "auto", model: str = "yard", folder: str = "") -> Engine:
    """A loaded recogniser: "whisper", "ctranslate2", or the faster one here ("auto").

    `folder` is the user's own model folder, asked before the installed weights.

    Raises:
        InputError: no engine of that name.
        ModelError: the weights are missing or wrong.
    """
    if engine not in ENGINES:
        raise InputError(f"There is no engine {engine!r}. Choose one of: {', '.join(ENGINES)}.")
    few_heaps()  # before the engine's own threads have theirs
    weights = find_weights(model, folder)
    if engine == "auto":
        engine = "whisper" if _has_cuda() else "ctranslate2"
    if engine == "whisper":
        from fieldvoice.hearing.engines.openai import WhisperEngine

        return WhisperEngine(weights.folder, model)
    from fieldvoice.hearing.engines.ctranslate import CTranslate2Engine

    return CTranslate2Engine(weights.folder, model)


SECOND = {"yard": "base", "tiny.en": "base"}  # whose opinion is asked; the others ask "yard"


def load_second(model: str = "yard", folder: str = "") -> Adviser | None:
    """Another model to ask about numbers, on the CPU; None if there is none here."""
    from fieldvoice.hearing.engines.ctranslate import CTranslate2Engine

    name = SECOND.get(model, "yard")
    try:
        weights = find_weights(name, folder)
    except ModelError:
        return None
    return CTranslate2Engine(weights.folder, name)


def _has_cuda() -> bool:
    """Asked of CTranslate2, which loads in a fifth of PyTorch's time."""
    import ctranslate2

    return int(ctranslate2.get_cuda_device_count()) > 0
