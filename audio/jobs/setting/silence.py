"""The noise of each return while nothing is sent, and the loop test over the states of the cable."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from audio.jobs.deck import StoppedError
from audio.jobs.rolls import captured, refuse_broken
from audio.jobs.setting.ground import Ground
from audio.plan.setup import is_past, of_same_cables
from audio.verdict.hums import hum_matters
from audio.verdict.quiet import (
    findings_of_silence,
    headline_of_silence,
    summary_of_silence,
    whine_matters,
    word_of,
)
from audio.vocab.errors import UseError
from audio.vocab.levels import NoiseFloor
from audio.vocab.setup import (
    AskSilence,
    Noise,
    Outcome,
    PatchState,
    Row,
    SilenceResult,
)

SETTLES_S = 0.3
"""Left out at the beginning: what sounded before dies away."""

LEAST_S = 1.0
"""Fewest seconds that tell hum from hiss."""

_SAY: dict[PatchState, str] = {
    "as it is": "nothing is sent; bypass every gate, and touch nothing",
    "unplugged": "cable out of the amp's input; bypass every gate, and touch nothing",
    "plugged": "cable in the amp's input; bypass every gate, and touch nothing",
    "lifted": "cable in, ground lift pressed; bypass every gate, and touch nothing",
}


def measure_silence(ground: Ground, asked: AskSilence) -> Outcome:
    """Listen while nothing is sent, take the noise apart, and hold it against the cable's other states."""
    if asked.seconds < LEAST_S:
        raise UseError(f"hum needs {LEAST_S:g} s to be told from hiss, not {asked.seconds:g}")
    if asked.patch != "as it is":
        ground.deck.patch(asked.patch)
    try:
        result = _listened(ground, asked)
    finally:
        if asked.patch == "unplugged":  # whoever plays next has put it back
            ground.deck.patch("plugged")
    others = dict(_other_states(ground, asked.patch))
    found = findings_of_silence(result, others=others, before=_before(ground, asked.patch))
    return Outcome(
        result=result,
        rows=tuple(_row(one.name, one.floor) for one in result.returns),
        findings=found,
        headline=headline_of_silence(result, found),
        summary=summary_of_silence(result, found),
    )


def _listened(ground: Ground, asked: AskSilence) -> SilenceResult:
    deck = ground.deck
    rate, returns = deck.opened.sample_rate, deck.wiring.returns
    settles = round(SETTLES_S * rate)
    with tempfile.TemporaryDirectory(prefix="secondpass-silence-") as scratch:
        paths = tuple(Path(scratch) / f"{one.input}.wav" for one in returns)

        def floors() -> tuple[NoiseFloor, ...]:
            return deck.worker.read_noise(paths, sample_rate=rate, from_frame=settles)

        def look() -> None:
            rows = zip((one.name for one in returns), floors(), strict=True)
            ground.show("silence", _SAY[asked.patch], tuple(_row(*row) for row in rows))

        ended = deck.play(
            what="listen",
            length_frames=settles + round(asked.seconds * rate),
            captures=tuple(
                captured(path, input_number=one.input)
                for path, one in zip(paths, returns, strict=True)
            ),
            meanwhile=look,
        )
        seconds = max(ended.frames - settles, 0) / rate
        if ended.reason == "stopped" and seconds < LEAST_S:
            raise StoppedError
        refuse_broken(ended, fault=deck.fault, what="the noise")
        heard = floors()
    return SilenceResult(
        patch=asked.patch,
        seconds=seconds,
        returns=tuple(
            Noise(name=one.name, input=one.input, floor=floor)
            for one, floor in zip(returns, heard, strict=True)
        ),
    )


def _row(name: str, floor: NoiseFloor) -> Row:
    """Return the noise of a return; it is in its target while no hum and no whine in it matters."""
    known = floor.hiss_dbfs is not None
    return Row(
        name=name,
        value=floor.rms_dbfs if known else None,
        unit="dBFS",
        word="" if floor.reason == "too short" else word_of(floor),
        latched=hum_matters(floor) or whine_matters(floor),
    )


def _other_states(ground: Ground, patch: PatchState) -> Iterator[tuple[PatchState, SilenceResult]]:
    """Yield what was measured in the other states of the cable in this sitting, oldest first."""
    now = datetime.now().astimezone()
    for one in of_same_cables(ground.records, ground.deck.wiring):
        result = one.outcome.result
        if not isinstance(result, SilenceResult) or is_past(one, now=now):
            continue
        if result.patch not in (patch, "as it is"):
            yield result.patch, result


def _before(ground: Ground, patch: PatchState) -> SilenceResult | None:
    """Return what was measured last in this state of the cable, whenever that was."""
    alike = of_same_cables(ground.records, ground.deck.wiring)
    found = [one.outcome.result for one in alike]
    same = [one for one in found if isinstance(one, SilenceResult) and one.patch == patch]
    return same[-1] if same else None
