"""What is said of the noise of resting returns, from its parts alone."""

from __future__ import annotations

from typing import Any, Literal

import pytest

from audio.verdict.hums import hum_matters
from audio.verdict.quiet import (
    findings_of_silence,
    headline_of_silence,
    summary_of_silence,
    whine_matters,
    word_of,
)
from audio.vocab.findings import Finding
from audio.vocab.levels import MainsHum, NoiseFloor, Whine
from audio.vocab.setup import Noise, PatchState, SilenceResult
from audio.vocab.units import SILENCE_DBFS


def floor(
    *,
    hiss: float = -84.0,
    hum: float | None = None,
    hz: Literal[50, 60] = 50,
    whine: float | None = None,
) -> NoiseFloor:
    return NoiseFloor(
        rms_dbfs=max(level for level in (hiss, hum, whine) if level is not None),
        a_dbfs=hiss - 3.0,
        hiss_dbfs=hiss,
        hum=None if hum is None else MainsHum(hz=hz, exact_hz=float(hz), dbfs=hum, lines=()),
        whine=None if whine is None else Whine(hz=8000, dbfs=whine, lines=()),
    )


DEAD = NoiseFloor(
    rms_dbfs=SILENCE_DBFS, a_dbfs=SILENCE_DBFS, hiss_dbfs=None, reason="digital silence"
)


def silence(*floors: NoiseFloor, patch: PatchState = "as it is") -> SilenceResult:
    names = ("close", "room")
    return SilenceResult(
        patch=patch,
        seconds=4.0,
        returns=tuple(
            Noise(name=names[at], input=2 + at, floor=one) for at, one in enumerate(floors)
        ),
    )


def found(result: SilenceResult, *others: SilenceResult, **rest: Any) -> list[Finding]:
    known = {one.patch: one for one in others}
    return list(findings_of_silence(result, others=known, **({"before": None} | rest)))


def codes(*results: SilenceResult, **rest: Any) -> list[str]:
    return [one.code for one in found(*results, **rest)]


@pytest.mark.parametrize(
    ("hum", "hiss", "matters"),
    [(-89.9, -84.0, True), (-90.1, -84.0, False), (-101.0, -110.0, False), (-99.0, -110.0, True)],
)
def test_hum_matters_where_it_adds_to_the_noise_and_can_be_heard(
    hum: float, hiss: float, matters: bool
) -> None:
    assert hum_matters(floor(hiss=hiss, hum=hum)) is matters


def test_whine_matters_deeper_under_the_hiss() -> None:
    assert whine_matters(floor(hiss=-70.0, whine=-89.0))
    assert not whine_matters(floor(hiss=-70.0, whine=-91.0))


def test_quiet_returns_are_told_by_the_loudest() -> None:
    result = silence(floor(), floor(hiss=-80.0))
    assert found(result) == []
    assert headline_of_silence(result, ()).startswith("Quiet: −80 dBFS on room at most, −83 A-")
    assert summary_of_silence(result, ()) == "quiet"


def test_hum_names_the_return_where_it_is_worst_and_what_to_do() -> None:
    result = silence(floor(hum=-80.0), floor(hum=-62.0, hz=60))
    (hum,) = found(result)
    assert hum.text == "60 Hz hum on room and close: −62 dBFS on room, 22 dB over the hiss."
    assert "ground lift" in hum.advice
    assert summary_of_silence(result, (hum,)) == "hum 60 Hz"
    assert word_of(result.returns[1].floor) == "hum 60 Hz −62"


def test_hum_with_the_cable_out_is_not_blamed_on_it() -> None:
    (hum,) = found(silence(floor(hum=-60.0), patch="unplugged"))
    assert "there without the cable" in hum.advice


OUT = silence(floor(hum=-82.0), patch="unplugged")
IN = silence(floor(hum=-48.0), patch="plugged")


def test_the_loop_test_tells_how_much_each_cure_took() -> None:
    (plugged,) = found(IN, OUT)
    assert plugged.text == "The 50 Hz hum on close comes with the cable: −48 → −82 dBFS unplugged."
    lifted = silence(floor(hum=-78.0), patch="lifted")
    (told,) = found(lifted, OUT, IN)
    assert told.text.endswith("unplugged; the lift takes 30 dB of it away: leave it on.")
    quiet = silence(floor(), patch="lifted")
    assert codes(quiet, OUT, IN) == ["hum-cured"]
    (again,) = found(IN, OUT, quiet)
    assert (again.code, again.weight) == ("hum-by-cable", "look")
    assert "again" in again.advice


def test_a_lift_that_does_not_help_is_not_recommended() -> None:
    (told,) = found(silence(floor(hum=-49.0), patch="lifted"), OUT, IN)
    assert told.text.endswith("unplugged; the ground lift does not help.")
    assert "outlet strip" in told.advice


def test_hum_in_every_state_is_the_amps_own() -> None:
    (told,) = found(
        silence(floor(hum=-60.0), patch="lifted"),
        silence(floor(hum=-61.0), patch="unplugged"),
        silence(floor(hum=-60.0), patch="plugged"),
    )
    assert (told.code, told.weight) == ("hum-of-amp", "look")
    assert "(−61, −60 and −60 dBFS), so it is not a loop" in told.text
    assert "technician" in told.advice


def test_no_hum_plugged_in_needs_no_cure() -> None:
    plugged, unplugged = (silence(floor(), patch=p) for p in ("plugged", "unplugged"))
    assert codes(plugged, unplugged) == ["no-loop"]


def test_the_state_nobody_told_is_not_part_of_the_loop_test() -> None:
    assert codes(silence(floor(hum=-48.0)), OUT, IN) == ["hum"]


def test_never_is_the_mains_earth_to_be_lifted() -> None:
    told = [
        *found(silence(floor(hum=-48.0))),
        *found(IN, OUT),
        *found(silence(floor(hum=-49.0), patch="lifted"), OUT, IN),
        *found(silence(floor(hum=-78.0), patch="lifted"), OUT, IN),
        *found(silence(floor(whine=-70.0))),
    ]
    for one in told:
        assert "Never lift the mains safety earth" in one.advice or "never lift" in one.advice


def test_noise_that_fell_far_under_what_it_was_looks_like_a_shut_gate() -> None:
    (shut,) = found(silence(floor(hiss=-110.0)), before=silence(floor(hiss=-84.0)))
    assert (shut.code, shut.weight) == ("gate-shut", "look")
    assert "26 dB under what it was" in shut.text
    assert codes(silence(floor(hiss=-90.0)), before=silence(floor(hiss=-84.0))) == []


def test_digital_silence_is_no_quiet() -> None:
    result = silence(floor(), DEAD)
    (dead,) = found(result)
    assert (dead.code, dead.weight) == ("input-dead", "redo")
    assert "room (input 3)" in dead.text
    assert word_of(DEAD) == "digital silence"


def test_whine_is_told_with_its_family() -> None:
    (whine,) = found(silence(floor(whine=-70.0)))
    assert whine.text == "USB whines on close, 8 kHz and its multiples: −70 dBFS."
