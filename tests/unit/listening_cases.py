"""Sounds to listen to that never were: two variants of two microphones, an original, the bare DI."""

from __future__ import annotations

from typing import Any

from audio.vocab.balance import Balance, Fader
from audio.vocab.layers import Layer
from audio.vocab.listening import BACKING, ListeningNow, Sound, Under
from audio.vocab.matching import SoundLevel
from audio.vocab.messages import Span
from audio.vocab.variant import VariantFile

RATE = 48_000


def layer(name: str, *, of: str = "001", **where: Any) -> Layer:
    usual: dict[str, Any] = {"path": f"/evening/{of}/{name}.wav", "channel": 0, "at_frame": 0}
    return Layer(name=name, **(usual | where))


def a_variant(number: int, *microphones: str) -> Sound:
    key = f"{number:03d}"
    layers = tuple(layer(name, of=key) for name in microphones or ("close", "room"))
    return Sound(key=key, title=f"fuzz {number}", number=number, layers=layers)


ORIGINAL = Sound(
    key="original:close", title="original, close", layers=(layer("original", of="originals"),)
)
BARE = Sound(key="di", title="DI, as it was edited", layers=(layer("di", of="di"),))
TRACK = Under(
    name=BACKING,
    layers=(layer(BACKING, of="track"), layer(BACKING, of="track", channel=1)),
    db=-6.0,
)


def level(match_db: float, *, lufs: float | None = -20.0, peak: float = -6.0) -> SoundLevel:
    return SoundLevel(loudness_lufs=lufs, peak_dbtp=peak, match_db=match_db)


def now(**fields: Any) -> ListeningNow:
    """Return two variants, an original and the DI, the first of them heard, with a backing track."""
    sounds = fields.pop("sounds", (a_variant(2), a_variant(1), ORIGINAL, BARE))
    usual: dict[str, Any] = {
        "part": "riff",
        "sample_rate": RATE,
        "sounds": sounds,
        "heard": sounds[0].key,
        "before": sounds[0].key,
        "under": (TRACK,),
        "whole": 20 * RATE,
        "span": Span(start=0, end=20 * RATE),
    }
    return ListeningNow(**(usual | fields))


def came_in(name: str, *, peak: float, lufs: float | None) -> VariantFile:
    """Return what a pass says of a microphone."""
    return VariantFile(
        return_name=name,
        input=2,
        path=f"passes/riff/001/{name}.wav",
        frames=10,
        audio_sha256="ab" * 32,
        peak_dbfs=peak,
        clipped_runs=0,
        loudness_lufs=lufs,
        polarity="normal",
        extra_delay_frames=None,
        noise_dbfs=None,
        hum_hz=None,
        hum_dbfs=None,
    )


def faders(*solo: str, **dbs: float | None) -> Balance:
    moved = tuple(Fader(name=name, db=db) for name, db in dbs.items())
    return Balance(faders=moved, solo=solo)
