"""Polarity and distance of the microphones, by the test click."""

from __future__ import annotations

from collections.abc import Collection

from audio.jobs.clicks import ceiling_for, find_click
from audio.jobs.setting.ground import Ground
from audio.verdict.clicks import explain
from audio.verdict.heard import Heard, combined
from audio.verdict.stands import findings_of_polarity, headline_of_polarity
from audio.vocab.air import air_cm
from audio.vocab.names import BARE_PATH
from audio.vocab.results import ClickReading
from audio.vocab.setup import Outcome, PolarityResult, Row, Stands
from audio.vocab.units import with_sign
from audio.vocab.wiring import Return


def measure_polarity(ground: Ground) -> Outcome:
    """Send the test click and tell how the microphones stand to each other."""
    deck = ground.deck
    ground.show("polarity", "the test click sounds: keep ears away from the speaker")
    heard = find_click(deck, ceiling_dbfs=ceiling_for(deck, di_peak_dbfs=None)).heard
    wiring = heard.wiring
    references = tuple(dict.fromkeys(wiring.beside(one).name for one in wiring.returns))
    result = PolarityResult(returns=_stands(heard, bare=ground.chain == BARE_PATH))
    absent = tuple(one for one in explain(heard) if one.code not in _TOLD_HERE)
    return Outcome(
        result=result,
        rows=tuple(_row(one, references=references) for one in result.returns),
        findings=(*absent, *findings_of_polarity(result)),
        headline=headline_of_polarity(result, references=references),
        summary=_summary(result, references=references),
    )


_TOLD_HERE = ("polarity-differs",)
"""Findings of a click that this step tells closer, pair by pair."""


def _stands(heard: Heard, *, bare: bool) -> tuple[Stands, ...]:
    amps = heard.wiring.amps
    found = [_one(heard, one, bare=bare) for one in heard.wiring.returns]
    return tuple(sorted(found, key=lambda one: (amps.index(one.amp), _nearness(one))))


def _nearness(one: Stands) -> float:
    return float("inf") if one.after_reference_cm is None else one.after_reference_cm


def _one(heard: Heard, one: Return, *, bare: bool) -> Stands:
    beside = heard.wiring.beside(one)
    mine, reference, loop = heard.of(one), heard.of(beside), heard.loop
    is_reference = one == beside
    return Stands(
        name=one.name,
        input=one.input,
        amp=one.amp,
        polarity=mine.polarity,
        after_reference_cm=_air_between(heard, mine, reference),
        plus_minus_cm=0.0 if is_reference else _plus_minus(heard, mine, reference),
        from_speaker_cm=_air_between(heard, mine, loop) if bare and loop is not None else None,
    )


def _air_between(heard: Heard, late: ClickReading, early: ClickReading) -> float | None:
    if late.delay_frames is None or early.delay_frames is None:
        return None
    return _cm(heard, late.delay_frames - early.delay_frames)


def _plus_minus(heard: Heard, one: ClickReading, other: ClickReading) -> float | None:
    if one.plus_minus_frames is None or other.plus_minus_frames is None:
        return None
    return _cm(heard, combined(one.plus_minus_frames, other.plus_minus_frames))


def _cm(heard: Heard, frames: float) -> float:
    return air_cm(frames, rate=heard.wiring.sample_rate, celsius=heard.wiring.room_celsius)


def _row(one: Stands, *, references: Collection[str]) -> Row:
    word: str = "" if one.polarity == "normal" else one.polarity
    if one.name in references:
        word = f"reference {word}".rstrip()
    return Row(name=one.name, value=one.after_reference_cm, unit="cm", word=word)


def _summary(result: PolarityResult, *, references: Collection[str]) -> str:
    known = [one for one in result.returns if one.after_reference_cm is not None]
    away = [one.after_reference_cm or 0.0 for one in known if one.name not in references]
    far = f"{with_sign(max(away))} cm" if away else ""
    turned = "inverted" if any(one.polarity == "inverted" for one in result.returns) else ""
    return far or turned or {0: "not heard", 1: "one mic"}.get(len(known), f"{len(known)} mics")
