"""A chain's file: read strictly, kept as written, extended, written back."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.vocab.chain import AmpAsSet, Chain, MicAsSet, Pedal
from audio.vocab.chain_file import extended, parse_chain
from audio.vocab.chain_text import chain_text
from audio.vocab.errors import UseError
from audio.vocab.strict_yaml import Problems

FUZZ = """\
name: fuzz into delay
pedals:
  - tuner
  - {pedal: fuzz, knobs: {volume: 2:30, fuzz: 7.0, octave: off, tone: 0123, bias: 1_000}}
  - pedal: tremolo
    moves: true
    knobs: {speed: just past noon, depth: -3 dB}
amp:
  input: bright
  knobs: {bass: 5, treble: "6"}
  loop: [{pedal: delay, knobs: {time: 412 ms}}]
  speaker: 4x12
  tap: 16 ohm
mics:
  - {return: close, mic: ribbon, place: "edge of the cone, 4 cm", pad: true}
photos: [fuzz.jpg, 17.jpg]
note: the red one
"""


def read(text: str, *, name: str = "a file") -> Chain:
    return parse_chain(text, where="fuzz.yaml", name=name).chain


def grown(text: str, base: Chain) -> Chain:
    problems = Problems("higher.yaml")
    chain = extended(parse_chain(text, where="higher.yaml", name="higher"), base, problems=problems)
    problems.check()
    return chain


def test_every_setting_is_kept_as_it_was_written() -> None:
    chain = read(FUZZ)
    assert chain.name == "fuzz into delay"
    assert [one.name for one in chain.pedals] == ["tuner", "fuzz", "tremolo"]
    assert chain.pedals[1].knobs == {
        "volume": "2:30",
        "fuzz": "7.0",
        "octave": "off",
        "tone": "0123",
        "bias": "1_000",
    }
    assert chain.pedals[2] == Pedal(
        name="tremolo", moves=True, knobs={"speed": "just past noon", "depth": "-3 dB"}
    )
    assert chain.amps[0].knobs == {"bass": "5", "treble": "6"}
    assert chain.amps[0].loop == (Pedal(name="delay", knobs={"time": "412 ms"}),)
    assert (chain.amps[0].speaker, chain.amps[0].tap) == ("4x12", "16 ohm")
    assert chain.mics == (
        MicAsSet(return_name="close", mic="ribbon", place="edge of the cone, 4 cm", pad="true"),
    )
    assert chain.photos == ("fuzz.jpg", "17.jpg")


def test_a_file_without_a_name_is_called_after_itself() -> None:
    assert read("pedals: [boost]", name="clean boost").name == "clean boost"


def test_a_chain_extends_another_knob_by_knob() -> None:
    base = read(FUZZ)
    text = """\
as: fuzz into delay
name: higher
without: [tuner]
turn: {fuzz: {fuzz: "2:30"}, amp: {treble: 8}, delay: {time: 500 ms}}
mics: [{return: room, mic: omni}]
"""
    chain = grown(text, base)
    assert [one.name for one in chain.pedals] == ["fuzz", "tremolo"]
    assert chain.pedals[0].knobs == {**base.pedals[1].knobs, "fuzz": "2:30"}
    assert chain.amps[0].knobs == {"bass": "5", "treble": "8"}
    assert chain.amps[0].loop[0].knobs == {"time": "500 ms"}
    assert [one.return_name for one in chain.mics] == ["close", "room"]
    assert (chain.like, chain.name, chain.note) == ("fuzz into delay", "higher", "the red one")


def test_pedals_named_by_an_extending_chain_are_all_there_are() -> None:
    assert grown("as: fuzz into delay\npedals: []", read(FUZZ)).pedals == ()
    assert [p.name for p in grown("as: x\npedals: [wah]", read(FUZZ)).pedals] == ["wah"]


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("pedals:\n  - {knobs: {a: 1}}", 2, "pedal is missing"),
        ("pedals:\n  - {pedal: fuzz, nobs: {a: 1}}", 2, "did you mean knobs"),
        ("pedals:\n  - fuzz\n  - Fuzz", 1, "two pedals"),
        ("pedals: [fuzz]\namp: {loop: [fuzz]}", 1, "two pedals"),
        ("pedals: [{pedal: fuzz, knobs: [7]}]", 1, "is no mapping"),
        ("pedals: [{pedal: fuzz, knobs: {a: {b: 1}}}]", 1, "write one setting"),
        ("pedals: [{pedal: fuzz, moves: yes}]", 1, "did you mean true"),
        ("amp: {input: a}\namps: [{name: left}]", 2, "not both"),
        ("amps: [{input: a}]", 1, "amp name is missing"),
        ("amps: [{name: left}, {name: left}]", 1, "two amps"),
        ("mics: [{mic: ribbon}]", 1, "return is missing"),
        ("mics: [{return: a}, {return: a}]", 1, "two microphones"),
        ("turn: {fuzz: {a: 1}}", 1, "name it: as"),
        ("pedals: [fuzz]\nwithout: [fuzz]", 2, "name it: as"),
        ("as: crunch\nturn: [fuzz]", 2, "write turn:"),
        ("name: ' '", 1, "name"),
        ("note: " + "x" * 501, 1, "shorten"),
        ("pedals: [fuzz", 1, "not closed"),
        ("- fuzz", 1, "write pedals"),
        ("pedal: fuzz", 1, "did you mean pedals"),
    ],
)
def test_a_mistake_is_told_with_its_line_and_the_way_out(text: str, line: int, says: str) -> None:
    with pytest.raises(UseError) as told:
        read(text)
    assert f"fuzz.yaml, line {line}:" in str(told.value)
    assert says in str(told.value)


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("as: x\nwithout:\n  - wah", 3, "there is no 'wah' in 'fuzz into delay'"),
        ("as: x\nturn:\n  fuzz: {a: 1}\n  chorus: {b: 2}", 4, "there is no 'chorus'"),
        ("as: x\nturn: {left: {treble: 2}}", 2, "there is no 'left'"),
    ],
)
def test_what_the_other_chain_has_not_is_told_with_its_line(
    text: str, line: int, says: str
) -> None:
    with pytest.raises(UseError) as told:
        grown(text, read(FUZZ))
    assert f"higher.yaml, line {line}:" in str(told.value)
    assert says in str(told.value)


words = st.text(
    st.characters(exclude_categories=("C", "Z"), include_characters=" :#'\"{}[],&*!|>%@`-?"),
    min_size=1,
    max_size=12,
).filter(lambda word: word == word.strip())
knobs = st.dictionaries(words, words, max_size=3)
pedals = st.lists(words, max_size=3, unique_by=str.casefold)


@given(pedals, knobs, words)
def test_what_is_written_reads_back_alike(
    names: list[str], said: dict[str, str], word: str
) -> None:
    chain = Chain(
        name="written",
        pedals=tuple(Pedal(name=name, knobs=said, moves=True, note=word) for name in names),
        amps=(AmpAsSet(name="left", knobs=said, tap=word), AmpAsSet(name="right", input=word)),
        mics=(MicAsSet(return_name="close", place=word),),
        photos=(word,),
        note=word,
    )
    try:
        back = read(chain_text(chain))
    except UseError as error:  # two names that a disk takes for one, or a character nobody sees
        assert "two pedals" in str(error) or "hidden" in str(error)  # noqa: PT017 - either
        return
    assert back == chain


def test_the_examples_that_come_with_the_program_can_be_read() -> None:
    folder = Path(__file__).parents[2] / "configs" / "chains"
    files = sorted(folder.glob("*.yaml"))
    assert files
    for file in files:
        parse_chain(file.read_text(encoding="utf-8"), where=file.name, name=file.stem)
