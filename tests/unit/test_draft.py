"""A wiring while it is chosen: whatever is stepped, what can be saved is a wiring that can be."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.vocab.devices import DeviceFacts, DeviceList
from audio.vocab.wiring import (
    Click,
    Loop,
    Microphone,
    PortAudioDevice,
    Return,
    SimulatedDevice,
    Wiring,
)
from audio.vocab.wiring_file import parse_wiring
from audio.vocab.wiring_text import wiring_text
from tui.draft import MOST, RATES, Draft

HOST = "ALSA"
BOX = PortAudioDevice(host=HOST, name="box")


def base(**fields: Any) -> Wiring:
    usual: dict[str, Any] = {
        "name": "tracking room",
        "device": BOX,
        "sample_rate": 48_000,
        "send_output": 3,
        "returns": (Return("close", 2), Return("room", 3)),
        "reference": "close",
        "block_frames": 256,
        "witness_input": 5,
        "loop": Loop(output=8, input=8),
        "listen_outputs": (1, 2),
        "depth": 32,
        "click": Click(start_dbfs=-50.0, ceiling_dbfs=-20.0),
        "tail_s": 7.0,
    }
    return Wiring(**(usual | fields))


def device(name: str = "box", *, inputs: int = 8, outputs: int = 8) -> DeviceFacts:
    return DeviceFacts(host=HOST, name=name, inputs=inputs, outputs=outputs, default_rate=48_000.0)


def draft(wiring: Wiring | None = None, *devices: DeviceFacts) -> Draft:
    """Return a draft that has heard what the system offers."""
    one = Draft(base=wiring, sample_rate=wiring.sample_rate if wiring else 48_000)
    one.offer(DeviceList(devices=devices or (device(),)))
    return one


# ------------------------------------------------------------------ where it begins


def test_the_sessions_wiring_comes_back_as_it_was() -> None:
    wiring = base()
    assert draft(wiring).wiring("tracking room") == wiring


def test_without_a_wiring_the_first_device_is_guessed_at_and_no_input_is_taken() -> None:
    one = draft(None, device(outputs=8))
    assert (one.send, one.listen, one.loop) == (3, (1, 2), None)
    assert {one.role(n) for n in range(1, 9)} == {"not used"}
    assert "no input is a return yet" in one.problem()
    assert draft(None, device(outputs=2)).send == 2
    assert draft(None, device(outputs=2)).listen == (), "people never listen at the send"


def test_half_devices_are_not_offered_and_channels_end_somewhere() -> None:
    one = draft(None, device("mic", outputs=0), device("speaker", inputs=0), device(inputs=500))
    assert [choice.words for choice in one.choices] == ["box · ALSA"]
    assert one.choices[0].inputs == MOST


def test_a_system_without_devices_says_the_way_out() -> None:
    one = Draft(base=None, sample_rate=48_000)
    one.offer(DeviceList(reason="none there"))
    assert "connect one and press r" in one.problem()
    with pytest.raises(ValueError, match="no device"):
        one.watching()


def test_the_sessions_own_device_stays_offered_while_it_is_not_there() -> None:
    one = draft(base(), device("other"))
    assert [choice.words for choice in one.choices] == ["box · ALSA", "other · ALSA"]
    assert one.wiring("tracking room") == base()


def test_asking_the_system_again_keeps_what_was_chosen() -> None:
    one = draft(base(), device(), device("other"))
    one.step_device(1)
    one.refer(4)
    one.offer(DeviceList(devices=(device(), device("third"), device("other"))))
    assert one.choice is not None
    assert one.choice.words == "other · ALSA"
    assert one.role(4) == "reference"


def test_another_device_begins_anew_and_going_back_brings_the_sessions_wiring() -> None:
    one = draft(base(), device(), device("other", inputs=2, outputs=2))
    one.step_device(1)
    assert (one.send, one.role(2), one.loop) == (2, "not used", None)
    one.step_device(1)  # there is no further one
    one.step_device(-1)
    assert one.wiring("tracking room") == base()


# ------------------------------------------------------------------ what stays of the session's wiring


def test_what_the_screen_does_not_show_stays() -> None:
    one = draft(base())
    one.step_send(1)
    saved = one.wiring("tonight")
    for field in ("depth", "click", "tail_s", "align_to", "block_frames"):
        assert getattr(saved, field) == getattr(base(), field)


def test_the_block_belongs_to_the_device_it_was_chosen_for() -> None:
    one = draft(base(), device(), device("other"))
    one.step_device(1)
    one.refer(1)
    assert one.wiring("tonight").block_frames is None
    assert one.wiring("tonight").tail_s == 7.0


def test_a_simulated_room_keeps_what_is_in_it() -> None:
    room = SimulatedDevice(inputs=4, outputs=4, microphones=(Microphone(input=2),), seed=7)
    wiring = base(device=room, witness_input=None, loop=None, returns=(Return("close", 2),))
    one = draft(wiring)
    one.step_send(1)
    assert one.wiring("tracking room") == msgspec.structs.replace(wiring, send_output=4)


# ------------------------------------------------------------------ steps


def test_a_step_goes_no_further_than_there_is() -> None:
    one = draft(base(loop=None, listen_outputs=()))
    for step, ends in ((1, 8), (-1, 1)):
        for _ in range(20):
            one.step_send(step)
        assert one.send == ends
    for step, rate in ((1, RATES[-1]), (-1, RATES[0])):
        for _ in range(20):
            one.step_rate(step)
        assert one.sample_rate == rate


def test_a_send_that_takes_an_output_says_who_has_lost_it() -> None:
    one = draft(base())
    one.step_send(-1)
    assert one.listen == ()
    assert "nobody listens any more: output 2 is the send now" in one.note
    one.step_rate(1)
    assert one.note == "", "it is the newest step's note"
    one.send = 7
    one.step_send(1)
    assert one.loop is None
    assert "loop cable" in one.note


def test_people_never_listen_at_the_send_nor_at_the_loop() -> None:
    one = draft(base(loop=Loop(output=5, input=8)))
    seen = set()
    for _ in range(10):
        one.step_listen(1)
        seen.add(one.listen)
    for _ in range(10):
        one.step_listen(-1)
        seen.add(one.listen)
    assert seen == {(), (1, 2), (7, 8)}


def test_there_is_one_reference_and_one_witness_and_what_moved_is_said() -> None:
    one = draft(base())
    one.refer(3)
    assert (one.role(2), one.role(3)) == ("return", "reference")
    assert one.note == "the reference moved here from input 2"
    one.step_role(6, 1)
    one.step_role(6, 1)
    assert (one.role(5), one.role(6)) == ("not used", "witness")
    assert one.note == "the witness moved here from input 5"


def test_a_reference_that_is_taken_away_is_said_and_the_first_return_steps_in() -> None:
    one = draft(base())
    one.step_role(2, -1)
    assert "no reference is marked" in one.note
    assert one.wiring("tonight").reference == "room"


def test_stepping_a_reference_to_a_return_leaves_it_the_reference() -> None:
    one = draft(base())
    one.step_role(2, 1)  # from return to witness, the next there is
    assert one.role(2) == "witness"
    one.step_role(2, -1)
    assert one.role(2) == "return"


def test_an_input_that_is_used_takes_the_loop_off_it() -> None:
    one = draft(base())
    one.step_role(8, 1)
    assert one.loop is None
    assert "the loop cable is not wired any more" in one.note


def test_a_loop_is_offered_only_where_nothing_else_is() -> None:
    one = draft(base(loop=None))
    seen = set()
    for _ in range(10):
        one.step_loop(1)
        seen.add(one.loop)
    assert {loop.output for loop in seen if loop} == {4, 6, 7, 8}


# ------------------------------------------------------------------ names


@pytest.mark.parametrize("name", ["room", "Room", "", "a/b", "x" * 200])
def test_a_microphone_whose_name_cannot_be_is_refused_in_one_line(name: str) -> None:
    one = draft(base())
    problem = one.name_problem(2, name)
    assert problem
    assert "\n" not in problem
    assert one.names[2] == "close", "nothing has changed by asking"


def test_a_microphone_may_keep_its_name_or_have_a_free_one() -> None:
    one = draft(base())
    assert one.name_problem(2, "close") is None
    assert one.name_problem(2, "ribbon") is None


# ------------------------------------------------------------------ levels


@given(st.integers(1, 64), st.integers(1, 64))
def test_every_input_is_heard_while_levels_are_watched(inputs: int, outputs: int) -> None:
    one = draft(None, device(inputs=inputs, outputs=outputs))
    one.step_loop(1)
    watching = one.watching()
    assert [r.input for r in watching.returns] == list(range(1, inputs + 1))
    assert (watching.witness_input, watching.loop) == (None, None)
    assert parse_wiring(wiring_text(watching), where="watching") == watching


# ------------------------------------------------------------------ any steps at all

STEP = st.sampled_from((-1, 1))
INPUT = st.integers(1, 8)
STEPS = st.lists(
    st.one_of(
        st.tuples(
            st.sampled_from(("step_device", "step_rate", "step_send", "step_listen", "step_loop")),
            STEP,
        ),
        st.tuples(st.just("step_role"), INPUT, STEP),
        st.tuples(st.just("refer"), INPUT),
    ),
    max_size=40,
)


@given(STEPS, st.booleans())
def test_whatever_is_stepped_a_wiring_without_a_problem_can_be_saved(
    steps: list[tuple[Any, ...]], has_base: bool
) -> None:
    wiring = base() if has_base else None
    one = draft(wiring, device(), device("other", inputs=8, outputs=2))
    for name, *what in steps:
        getattr(one, name)(*what)
    if one.problem():
        assert not [n for n in range(1, 9) if one.role(n) in ("return", "reference")]
        return
    assert one.refused("tonight") is None
    saved = one.wiring("tonight")
    assert parse_wiring(wiring_text(saved), where="saved") == saved
    roles = [one.role(n) for n in range(1, 9)]
    assert roles.count("reference") <= 1
    assert roles.count("witness") <= 1
