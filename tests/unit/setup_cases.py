"""Records of the set-up that tests begin from."""

from __future__ import annotations

from typing import Any

from session_cases import NOON, READING, WIRING

from audio.vocab.delay import Delay
from audio.vocab.findings import Finding
from audio.vocab.setup import (
    DelayResult,
    Outcome,
    PolarityResult,
    SetupRecord,
    Stands,
)
from audio.vocab.sounds import Phrase, Sound, TakenFile


def outcome(**changes: Any) -> Outcome:
    usual: dict[str, Any] = {
        "result": PolarityResult(returns=(stands("close"),)),
        "rows": (),
        "findings": (),
        "headline": "close is right side up",
        "summary": "one mic",
    }
    return Outcome(**(usual | changes))


def stands(name: str, cm: float | None = 0.0, **changes: Any) -> Stands:
    usual: dict[str, Any] = {"input": 2, "polarity": "normal", "plus_minus_cm": 0.5}
    return Stands(name=name, after_reference_cm=cm, **(usual | changes))


def cable(frames: float | None, *, opening: str = NOON, sure: float = 0.02) -> DelayResult:
    """Return a round trip whose cable was read at one opening of the stream."""
    delay = Delay(
        reference="close",
        sample_rate=48_000,
        click_dbfs=-34.0,
        delay_frames=frames,
        delay_ms=None,
        plus_minus_frames=sure,
        spread_frames=None,
        snr_db=None,
        polarity="normal",
        returns=(),
        findings=(),
    )
    return DelayResult(
        delay=delay,
        cable_frames=frames,
        cable_plus_minus_frames=sure,
        patched=True,
        opening=opening,
    )


def record(**changes: Any) -> SetupRecord:
    usual: dict[str, Any] = {
        "number": 1,
        "step": "polarity",
        "made_at": NOON,
        "wiring": WIRING,
        "verdict": "good",
        "outcome": outcome(),
    }
    return SetupRecord(**(usual | changes))


REDO = Finding(code="nothing", weight="redo", text="Nothing came back.")

PHRASE = Phrase(
    part="rhythm-left",
    revision=1,
    from_frame=0,
    frames=48_000,
    rest_frames=24_000,
    trim_db=0.0,
    file="sounds/the-lead/phrase.wav",
    loudest_dbfs=-12.0,
)


def sound(name: str, made_at: str = NOON) -> Sound:
    return Sound(
        name=name,
        made_at=made_at,
        wiring=WIRING,
        chain="fuzz",
        notes="gain at two",
        phrase=PHRASE,
        kept_at=72_000,
        again_at=144_000,
        shift_frames=650,
        files=(
            TakenFile(
                name="close", input=2, path="sounds/the-lead/2-close.wav", audio_sha256="ab" * 32
            ),
        ),
        click=(READING,),
    )
