"""DIs as they may have been measured; nothing in them is real."""

from __future__ import annotations

from typing import Any

from msgspec.structs import replace

from audio.vocab.readiness import DiLevel, DiMeasures, Edge, Hit
from audio.vocab.results import AudioFacts

RATE = 48_000

QUIET_EDGE = Edge(silence_frames=0, step_dbfs=-200.0, click_db=-200.0, fade_frames=480)

FACTS = AudioFacts(
    path="di/hook.r1.wav",
    container="WAV",
    encoding="PCM_24",
    sample_rate=RATE,
    channels=1,
    frames=10 * RATE,
    time_reference=RATE,
    file_sha256="0" * 64,
    channel=0,
    peak_dbfs=-9.0,
    loudest_dbfs=-18.0,
)

LEVEL = DiLevel(
    peak_dbfs=-9.0,
    true_peak_dbtp=-8.8,
    loudness_lufs=-24.0,
    crest_db=16.0,
    dc=0.0,
    clipped_runs=0,
    clipped=(),
)

CLEAN = DiMeasures(
    facts=FACTS,
    others="none",
    used_bits=24,
    level=LEVEL,
    start=QUIET_EDGE,
    end=QUIET_EDGE,
    hits=(),
    joints=(),
    repeats=(),
    stops=(),
    between=(),
)
"""Nothing to say against it."""


def measures(**other: Any) -> DiMeasures:
    """Return a clean DI, but for what is said."""
    return replace(CLEAN, **other)


def facts(**other: Any) -> AudioFacts:
    return replace(FACTS, **other)


def level(**other: Any) -> DiLevel:
    return replace(LEVEL, **other)


def hits(*frames: float) -> tuple[Hit, ...]:
    return tuple(Hit(frame=frame, level_dbfs=-12.0, confidence=0.99) for frame in frames)
