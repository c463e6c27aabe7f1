"""A stretch of a DI as a file of its own, faded at its ends."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

import numpy as np

from audio.files.inspect import inspect
from audio.files.source import SourceFile
from audio.vocab.errors import UseError
from audio.vocab.requests import CutPhrase
from audio.vocab.results import AudioFacts
from audio.work.clicks import write_floats

FADE_S = 0.01
"""As short as an attack bears, long enough not to click (common practice, no source)."""


def cut_phrase(asked: CutPhrase) -> AudioFacts:
    """Write the stretch as a mono 32-bit float WAV file that is new; return what it is.

    `UseError` if the stretch does not lie in the DI, the DI cannot be read, or the file cannot be written.
    """
    to = Path(asked.to)
    with closing(SourceFile(Path(asked.path))) as sound:
        if asked.from_frame < 0 or asked.from_frame + asked.frames > sound.frames:
            raise UseError(f"the phrase does not lie in {asked.path}; choose an earlier beginning")
        phrase = sound.read(asked.from_frame, asked.frames, channel=asked.channel)
        fade = np.sin(np.linspace(0.0, np.pi / 2.0, round(FADE_S * sound.rate))) ** 2
        phrase[: fade.size] *= fade
        phrase[-fade.size :] *= fade[::-1]
        rate = sound.rate
    to.touch(exist_ok=False)
    write_floats(asked.to, phrase, rate=rate, what="the phrase")
    return inspect(to, channel=0)
