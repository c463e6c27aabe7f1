"""What the bursts say of the cables, from readings alone."""

from __future__ import annotations

from typing import Any

import pytest
from msgspec.structs import replace

from audio.verdict.wired import (
    Toned,
    findings_of_wire,
    headline_of_wire,
    heard_enough,
    is_copy,
    summary_of_wire,
)
from audio.vocab.bursts import BurstReading
from audio.vocab.findings import Finding
from audio.vocab.setup import ToneHeard
from audio.vocab.wiring import Loop, Return, SimulatedDevice, Wiring

AMP = (-6.0, -45.0, None)
WIRE = (0.0, 0.0, 0.1)
NAMES = {2: "close", 3: "room", 5: "witness"}

WIRING = Wiring(
    name="room",
    device=SimulatedDevice(),
    sample_rate=48_000,
    send_output=3,
    returns=(Return("close", 2), Return("room", 3)),
    reference="close",
    witness_input=5,
)


def reading(*gains: float | None, reason: Any = None, over: float = 50.0) -> BurstReading:
    heard = bool(gains)
    return BurstReading(
        gains_db=gains,
        over_noise_db=over if heard else None,
        noise_dbfs=-84.0,
        peak_dbfs=-40.0,
        reason=reason if reason or heard else "nothing",
    )


def toned(wiring: Wiring = WIRING, level: float = -40.0, **inputs: BurstReading) -> Toned:
    """Return six inputs, all as wired unless given as ``in_N``."""
    usual = {2: reading(*AMP), 3: reading(*AMP), 5: reading(*WIRE)}
    given = {int(name[3:]): one for name, one in inputs.items()}
    return Toned(
        wiring=wiring,
        inputs=tuple(
            ToneHeard(
                input=n, name=NAMES.get(n, ""), reading=({**usual, **given}).get(n, reading())
            )
            for n in range(1, 7)
        ),
        level_dbfs=level,
        ceiling_dbfs=-12.0,
    )


def found(one: Toned, **rest: Any) -> dict[str, Finding]:
    told = findings_of_wire(one, **({"moved_db": 0.01, "watched": True} | rest))
    return {finding.code: finding for finding in told}


def summary(one: Toned) -> str:
    return summary_of_wire(one, tuple(found(one).values()))


def test_all_as_wired_says_nothing_but_where_each_is() -> None:
    assert found(toned()) == {}
    assert headline_of_wire(toned(), ()) == (
        "The send is heard on close on input 2, room on input 3 and witness on input 5, "
        "at a tone of −40 dBFS."
    )
    assert summary(toned()) == "all heard"


def test_two_cables_in_wrong_inputs_are_told_together() -> None:
    one = toned(in_2=reading(), in_3=reading(), in_4=reading(*AMP), in_6=reading(*AMP))
    assert found(one)["wrong-input"].text == (
        "Wired are close to input 2 and room to input 3, but the tone comes back on inputs 4 and 6."
    )


def test_the_louder_stray_is_the_microphone_and_the_other_one_astray() -> None:
    one = toned(in_2=reading(), in_4=reading(-40.0, None, None), in_6=reading(*AMP))
    assert found(one)["wrong-input"].text.endswith("the tone comes back on input 6.")
    assert "Input 4" in found(one)["send-astray"].text
    assert summary(one) == "in 6, not 2"


def test_a_loopback_is_no_microphone_that_went_astray() -> None:
    one = toned(in_3=reading(), in_6=reading(-20.0, -20.0, -19.0))
    assert set(found(one)) == {"return-silent", "send-astray"}
    assert "by wire" in found(one)["send-astray"].text


@pytest.mark.parametrize(("which", "weight"), [("in_2", "redo"), ("in_3", "look")])
@pytest.mark.parametrize(
    ("reason", "code"),
    [("nothing", "return-silent"), ("digital silence", "input-dead"), ("clipped", "tone-clipped")],
)
def test_what_the_reference_misses_weighs_more(
    which: str, weight: str, reason: str, code: str
) -> None:
    told = found(toned(**{which: reading(reason=reason)}))
    assert {one: finding.weight for one, finding in told.items()} == {code: weight}


def test_nothing_anywhere_is_told_by_what_the_witness_hears() -> None:
    deaf = {"in_2": reading(), "in_3": reading()}
    assert "first pedal" in found(toned(**deaf))["nothing-came-back"].text
    assert set(found(toned(**deaf, in_5=reading()))) == {"send-dead"}
    bare = replace(WIRING, witness_input=None)
    text = found(toned(bare, **deaf, in_5=reading()), watched=False)["nothing-came-back"].text
    assert "no other input heard it" in text
    assert summary(toned(**deaf)) == "nothing heard"


def test_a_silent_witness_and_a_silent_loop_are_told_where_microphones_hear() -> None:
    looped = replace(WIRING, loop=Loop(output=4, input=6))
    assert set(found(toned(looped, in_5=reading()))) == {"witness-silent", "loop-silent"}


@pytest.mark.parametrize(
    ("gains", "named", "copy"),
    [
        ((-6.0, -45.0, -60.0), True, False),  # a loudspeaker's own fall
        ((-6.0, -45.0, None), True, False),
        ((-6.0, -30.0, -30.5), True, True),  # beside a loudspeaker
        ((-6.0, -33.0, -30.0), True, True),  # wires side by side
        ((-40.0, -40.0, -40.0), True, True),  # alone
        ((-10.0, -12.0, -13.0), True, False),  # a full-range loudspeaker
        ((-10.0, -12.0, -13.0), False, True),  # where no microphone should be
    ],
)
def test_a_copy_by_wire_is_told_by_its_high_tones(
    gains: tuple[float | None, ...], named: bool, copy: bool
) -> None:
    assert is_copy(reading(*gains), named=named) is copy


def test_a_leak_alone_weighs_more_than_one_beside_the_amp() -> None:
    beside = found(toned(in_2=reading(-6.0, -30.0, -30.0)))["send-leaks"]
    alone = found(toned(in_2=reading(-40.0, -40.0, -40.0)))["only-leak"]
    assert (beside.weight, alone.weight) == ("look", "redo")
    assert "30 dB under it" in beside.text
    assert "40 dB under it, and no loudspeaker" in alone.text


@pytest.mark.parametrize(("moved", "told"), [(0.5, False), (0.6, True), (None, False)])
def test_a_witness_that_moves_by_more_than_half_a_decibel_is_monitoring(
    moved: float | None, told: bool
) -> None:
    assert ("monitor-reaches-send" in found(toned(), moved_db=moved)) is told


def test_the_tone_rises_until_every_return_hears_it_clearly() -> None:
    faint, fair = reading(*AMP, over=12.0), reading(*AMP, over=30.0)
    assert heard_enough(toned(in_2=fair, in_3=fair))
    assert not heard_enough(toned(in_2=fair, in_3=faint))
    assert heard_enough(toned(in_2=fair, in_3=faint, level=-12.0))
    assert not heard_enough(toned(in_2=faint, in_3=reading()))
    assert heard_enough(toned(in_3=reading()))  # one is deaf where the other hears 50 dB over noise
    assert heard_enough(toned(in_2=reading(), in_3=faint, in_4=reading(*AMP)))
    loopback = reading(-20.0, -20.0, -20.0)
    assert not heard_enough(toned(in_2=reading(), in_3=faint, in_4=loopback))
