"""Whole passes through the simulated room: what is planted is named, and proof and microphones are known.

What is planted is known to this test and to the room only.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from msgspec.structs import replace
from needs import needs_samples
from playing import write_phrase

from audio.files.inspect import inspect
from audio.jobs.deck import Deck
from audio.jobs.passes import run_pass
from audio.jobs.placing import Known
from audio.jobs.talk import Silent
from audio.session.folder import create
from audio.session.opened import Session
from audio.vocab.variant import Variant
from audio.vocab.wiring import Amp, Loop, Microphone, Return, SimulatedDevice, Wiring
from audio.vocab.wiring_text import wiring_text

pytestmark = needs_samples()

RATE = 48_000
DRIVE = {"kind": "drive", "drive_db": 12.0}
WIRING = Wiring(
    name="tracking room",
    device=SimulatedDevice(
        pace="free",
        inputs=8,
        outputs=8,
        amp=Amp(drive_db=6.0),
        microphones=(
            Microphone(input=2, distance_cm=4.0),
            Microphone(input=3, distance_cm=104.0, inverted=True),
        ),
        noise_dbfs=-84.0,
    ),
    sample_rate=RATE,
    send_output=3,
    returns=(Return("close", 2), Return("room", 3)),
    reference="close",
    block_frames=2048,
    loop=Loop(output=8, input=8),
    room_celsius=20.0,
    tail_s=2.0,
)


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> Session:
    folder = tmp_path_factory.mktemp("evening")
    made = create(folder / "evening", name="evening", song="tide", wiring_text=wiring_text(WIRING))
    di = write_phrase(folder / "riff.wav", rate=RATE, seconds=5.0, seed=21)
    return made.add_part(source=di, facts=inspect(di), name="riff")


@contextmanager
def deck(*faults: dict[str, Any], **chains: tuple[dict[str, Any], ...]) -> Iterator[Deck]:
    assert isinstance(WIRING.device, SimulatedDevice)
    device = replace(WIRING.device, faults=faults, chains=chains)
    with Deck(replace(WIRING, device=device), Silent()) as opened:
        yield opened


def passed(on: Deck, session: Session, chain: str) -> Variant:
    return run_pass(on, session, part_name="riff", chain=chain, known=Known()).variant


def weights(variant: Variant) -> dict[str, str]:
    return {f.code: f.weight for f in variant.findings}


@pytest.fixture(scope="module")
def first(session: Session) -> Variant:
    """A clean pass through a chain that every later one is compared with."""
    with deck(crunch=(DRIVE,)) as on:
        return passed(on, session, "crunch")


def test_a_clean_pass_is_good_and_proven_by_the_loop(first: Variant) -> None:
    assert {f.code for f in first.findings if f.weight != "good"} == set()
    assert first.verdict == "good"
    assert first.proof == "loop"


def test_microphones_are_as_far_apart_as_they_stand(first: Variant) -> None:
    _, room = first.files
    assert room.extra_air_cm == pytest.approx(100.0, abs=5.0)  # by the room's own geometry
    assert (first.files[0].polarity, room.polarity) == ("normal", "inverted")
    assert weights(first)["polarity-differs"] == "good"


STRAYED = ({"kind": "swapped inputs", "inputs": [2, 6]}, "wrong-input", "redo")
SLIPPED = ({"kind": "slip", "frames": 1, "after_sound_s": 2.0}, "frames-slipped", "redo")
MORE = (
    ({"kind": "inverted microphone", "input": 3}, "polarity-changed", "look"),
    ({"kind": "level", "gain_db": -6.0, "input": 3}, "level-off", "look"),
    ({"kind": "hum", "level_dbfs": -62.0}, "hum-up", "look"),
    ({"kind": "noise", "level_dbfs": -66.0, "after_sound_s": 2.0}, "noise-up", "look"),
    ({"kind": "clipping input", "input": 2, "gain_db": 40.0}, "clipped", "redo"),
    ({"kind": "dead cable", "after_sound_s": 1.0}, "dead-amp", "redo"),
)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("fault", "code", "weight"),
    [STRAYED, SLIPPED, *(pytest.param(*one, marks=pytest.mark.slow) for one in MORE)],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_is_planted_is_named(
    session: Session, first: Variant, fault: dict[str, Any], code: str, weight: str
) -> None:
    assert first.number == 1
    with deck(fault, crunch=(DRIVE,)) as on:
        found = passed(on, session, "crunch")
    assert weights(found).get(code) == weight, found.findings


@pytest.mark.slow
def test_a_chain_that_blurs_the_clicks_is_proven_by_the_loops_own(session: Session) -> None:
    with deck(seasick=({"kind": "vibrato", "hz": 5.0, "depth_ms": 0.8},)) as on:
        found = passed(on, session, "seasick")
    assert found.proof == "loop"
    assert len(found.closing_click) == 2
    assert weights(found)["chain-moves"] == "good"


@pytest.mark.slow
def test_only_the_send_leaking_is_told_from_an_amp(session: Session) -> None:
    with deck({"kind": "standby"}, {"kind": "crosstalk", "level_db": -45.0}) as on:
        found = passed(on, session, "bare path")
    assert weights(found).get("send-leaks") == "redo", found.findings
