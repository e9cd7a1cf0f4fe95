"""One window through the recogniser: prompt, guards, a second try, word times."""

from __future__ import annotations

from fieldvoice.hearing.engines import Engine
from fieldvoice.hearing.guards import judge
from fieldvoice.hearing.store import Heard
from fieldvoice.hearing.windows import Window

NO_REPEAT = 6  # tokens in a row that may not come twice in the second try


def hear_window(engine: Engine, window: Window, prompt: str) -> Heard:
    """Decode `window`; if a guard objects, once more without the prompt.

    A prompted window can loop or print its prompt; without the prompt and with a ban on
    repeats most of them come right. What still looks wrong is not trusted: no words.
    """
    encoded = engine.encode(window.sound)
    decoded = engine.generate(encoded, prompt)
    if not judge(decoded, window.seconds, prompt).ok:
        decoded = engine.generate(encoded, "", no_repeat=NO_REPEAT)
        if not judge(decoded, window.seconds, prompt).ok:
            return Heard((), trusted=False)
    return Heard(tuple(engine.align(encoded, decoded.tokens, window.seconds)))
