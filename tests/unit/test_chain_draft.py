"""A chain while it is written on the screen: what a row does, and that nothing of the chain is lost."""

from __future__ import annotations

import pytest

from audio.vocab.chain import AmpAsSet, Chain, MicAsSet, Pedal
from tui.chain_draft import ChainDraft, Row, turned

CHAIN = Chain(
    name="fuzz into delay",
    pedals=(
        Pedal(name="fuzz", knobs={"volume": "1:00", "fuzz": "7"}, note="the red one"),
        Pedal(name="tremolo", knobs={"speed": "just past noon"}, moves=True),
    ),
    amps=(
        AmpAsSet(
            input="bright",
            knobs={"treble": "6"},
            speaker="4x12",
            loop=(Pedal(name="delay", knobs={"time": "412 ms"}),),
        ),
    ),
    mics=(MicAsSet(return_name="close", mic="ribbon", place="edge of the cone"),),
    photos=("fuzz.jpg",),
    note="as on the second day",
)


def draft(base: Chain | None = CHAIN, *, name: str = "fuzz into delay 2") -> ChainDraft:
    return ChainDraft(base=base, name=name, returns=["close", "room"], taken=["fuzz into delay"])


def row(one: ChainDraft, label: str) -> Row:
    return next(row for row in one.rows() if row.label == label)


def names(one: ChainDraft) -> tuple[list[str], list[str]]:
    made = one.chain()
    loop = made.amps[0].loop if made.amps else ()
    return [p.name for p in made.pedals], [p.name for p in loop]


def test_what_is_not_touched_stays_as_it_was_written() -> None:
    one = draft()
    one.put(row(one, "name"), "fuzz into delay 2")
    made = one.chain()
    assert made.pedals == CHAIN.pedals
    assert made.amps == CHAIN.amps
    assert made.mics == CHAIN.mics
    assert (made.photos, made.note) == (CHAIN.photos, CHAIN.note)


@pytest.mark.parametrize(
    ("value", "step", "then"),
    [
        ("1:00", 1, "1:30"),
        ("12:30", 1, "1:00"),
        ("1:00", -1, "12:30"),
        ("12:00", -1, "11:30"),
        ("7", 1, "7.5"),
        ("7.5", 1, "8"),
        ("0", -1, "-0.5"),
        ("just past noon", 1, "just past noon"),
        ("412 ms", -1, "412 ms"),
    ],
)
def test_a_knob_is_turned_as_it_is_read(value: str, step: int, then: str) -> None:
    assert turned(value, step) == then


def test_a_pedal_walks_with_the_signal_and_at_the_end_into_the_loop() -> None:
    one = draft()
    pedal = one.pedal(row(one, "fuzz"))
    assert pedal is not None
    seen = []
    for _ in range(4):
        one.step(one.rows()[one.row_of(pedal)], 1)
        seen.append(names(one))
    assert seen == [
        (["tremolo", "fuzz"], ["delay"]),
        (["tremolo"], ["fuzz", "delay"]),
        (["tremolo"], ["delay", "fuzz"]),
        (["tremolo"], ["delay", "fuzz"]),  # there is nothing behind the last loop
    ]
    for _ in range(5):
        one.step(one.rows()[one.row_of(pedal)], -1)
    assert names(one) == (["fuzz", "tremolo"], ["delay"])


def test_a_pedal_is_put_behind_the_row_it_was_asked_at() -> None:
    one = draft()
    one.add_pedal("tuner", behind=row(one, "name"))
    one.add_pedal("wah", behind=row(one, "speed"))
    one.add_pedal("reverb", behind=row(one, "time"))
    assert names(one) == (["tuner", "fuzz", "tremolo", "wah"], ["delay", "reverb"])
    at = one.add_pedal("boost", behind=row(one, "note"))
    assert names(one)[0][-1] == one.rows()[at].label == "boost"
    one.add_pedal("buffer", behind=one.rows()[at])
    assert names(one)[0][-2:] == ["boost", "buffer"]


def test_two_pedals_of_one_name_are_refused_wherever_they_stand() -> None:
    one = draft()
    assert "already" in (one.new_pedal_problem("Delay") or "")
    assert "already" in (one.problem(row(one, "fuzz"), "tremolo") or "")
    assert one.problem(row(one, "fuzz"), "fuzz") is None


def test_a_knob_that_is_emptied_or_taken_out_is_left_out() -> None:
    one = draft()
    one.take_out(row(one, "volume"))
    one.put(row(one, "amp treble"), "")
    at = one.add_knob(row(one, "amp input"), "presence")
    assert one.rows()[at].label == "amp presence"
    one.put(row(one, "amp presence"), "off")
    made = one.chain()
    assert made.pedals[0].knobs == {"fuzz": "7"}
    assert made.amps[0].knobs == {"presence": "off"}


def test_a_chain_is_never_saved_under_a_name_that_is_there() -> None:
    one = draft()
    assert "none is ever replaced" in (one.name_problem("Fuzz into Delay") or "")
    assert one.name_problem("fuzz into delay 2") is None


def test_a_new_chain_starts_with_a_row_for_each_microphone_and_nothing_in_it() -> None:
    one = draft(None, name="bare path")
    assert one.name == ""
    assert {"close mic", "room mic"} <= {row.label for row in one.rows()}
    one.put(row(one, "name"), "clean")
    one.add_pedal("boost", behind=row(one, "name"))
    assert one.chain() == Chain(name="clean", pedals=(Pedal(name="boost"),))


def test_hidden_characters_and_overlong_settings_are_refused_with_the_way_out() -> None:
    one = draft()
    assert "type it again" in (one.problem(row(one, "volume"), "1\u200b") or "")
    assert "shorten" in (one.problem(row(one, "volume"), "x" * 81) or "")
