"""How a part was recorded, its trim, and the full scale of the send: read strictly, written gently."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from session_cases import NOON, WIRING, noon, session_with_a_part, tree
from test_session_yaml import BLOCK, FLOW, is_inserted, mistakes, parsed
from wiring_cases import WHOLE

from audio.plan.setup import same_cables
from audio.session import extend, journal
from audio.session.folder import open_session
from audio.session.model import session_text
from audio.vocab.errors import UseError
from audio.vocab.session_file import Part, Recorded, Revision, SessionFile, Song
from audio.vocab.wiring_file import parse_wiring
from audio.vocab.wiring_text import wiring_text

NOTED = (
    'recorded: {input: 1, box: passive DI, pad_db: -20, gain: "12 o\'clock", full_scale_dbu: 18}'
)


def noted(text: str = NOTED) -> str:
    return BLOCK.replace("trim_db: -3 ", f"{text}\n        trim_db: -3 ")


def test_how_a_part_was_recorded_is_read_and_may_be_left_out() -> None:
    song = parsed(noted()).songs[0]
    assert song.parts[0].recorded == Recorded(
        input=1, box="passive DI", pad_db=-20.0, gain="12 o'clock", full_scale_dbu=18.0
    )
    assert song.parts[1].recorded is None
    assert parsed(noted("recorded: {box: active}")).songs[0].parts[0].recorded == Recorded(
        box="active"
    )


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("recorded: 1", "write recorded: {input: 1, box: passive DI}"),
        ("recorded: {inputs: 1}", "did you mean input?"),
        ("recorded: {input: 0}", "channels count from 1"),
        ("recorded: {box: 3}", "put it in quotes"),
        ("recorded: {gain: }", ""),
        ("recorded: {pad_db: 20}", "did you mean -20?"),
        ("recorded: {pad_db: -20 dB}", "did you mean -20?"),
        ("recorded: {full_scale_dbu: 180}", "a number from -40 to 40"),
        ('recorded: {box: ""}', "is empty"),
    ],
)
def test_a_mistake_in_it_is_named_with_its_line(written: str, words: str) -> None:
    if not words:
        assert parsed(noted(written)).songs[0].parts[0].recorded == Recorded()
        return
    (line,) = mistakes(noted(written))
    assert line.startswith("session.yaml, line 12: ")
    assert words in line


notes = st.text("abc o'clock:#", min_size=1, max_size=12).filter(str.strip)


@given(
    st.builds(
        Recorded,
        input=st.none() | st.integers(1, 64),
        box=st.none() | notes,
        pad_db=st.none() | st.floats(-60, 0),
        gain=st.none() | notes,
        full_scale_dbu=st.none() | st.floats(-40, 40),
    )
)
def test_what_is_written_of_it_reads_back(recorded: Recorded) -> None:
    revision = Revision(file="di/a.wav", file_sha256="ab" * 32)
    part = Part(name="riff", revisions=(revision,), recorded=recorded)
    file = SessionFile(name="a", songs=(Song(name="b", parts=(part,)),))
    assert parsed(session_text(file)) == file


# ------------------------------------------------------------------ the trim


@pytest.mark.parametrize("text", [BLOCK, noted(), FLOW, BLOCK.replace("\n", "\r\n")])
@pytest.mark.parametrize("trim", [-60.0, -2.3, 0.0, 24.0])
def test_a_trim_changes_nothing_else(text: str, trim: float) -> None:
    name = "hook" if text == FLOW else "rhythm-left"
    new = extend.with_trim(text, name, trim, where="session.yaml")
    (song, *_), (before, *_) = parsed(new).songs, parsed(text).songs
    for part, old in zip(song.parts, before.parts, strict=True):
        assert part == (replace(old, trim_db=trim) if old.name == name else old)
    changed = [a for a, b in zip(text.splitlines(), new.splitlines(), strict=True) if a != b]
    assert len(changed) == 1
    assert ("# the hot DI box" in new) == ("# the hot DI box" in text)


def test_a_trim_where_none_was_written_is_a_line_of_its_own() -> None:
    new = extend.with_trim(BLOCK, "hook", -4.5, where="session.yaml")
    assert is_inserted(BLOCK, new)
    assert parsed(new).songs[0].parts[1].trim_db == -4.5
    assert "- name: hook\n        trim_db: -4.5\n        # played by the other guitarist\n" in new


def test_a_session_keeps_its_trim_and_the_journal_tells(tmp_path: Path) -> None:
    session = session_with_a_part(tmp_path)
    after = session.set_trim("rhythm-left", -2.3, clock=noon)
    assert after == open_session(session.folder)
    assert after.part("rhythm-left")[1].trim_db == -2.3
    entry = journal.read(session.folder)[-1]
    assert (entry.at, entry.event) == (NOON, "trim set")
    assert entry.facts == {"part": "rhythm-left", "trim_db": -2.3}


@pytest.mark.parametrize(
    ("part", "trim", "match"),
    [
        ("rhythm-left", 24.1, "out of range"),
        ("rhythm-left", -61.0, "from -60 to 24"),
        ("rhythm-left", float("nan"), "out of range"),
        ("hook", 0.0, "no part 'hook'"),
    ],
)
def test_a_trim_that_cannot_be_changes_nothing(
    tmp_path: Path, part: str, trim: float, match: str
) -> None:
    session = session_with_a_part(tmp_path)
    before = tree(session.folder)
    with pytest.raises(UseError, match=match):
        session.set_trim(part, trim)
    assert tree(session.folder) == before


# ------------------------------------------------------------------ the send's full scale


def test_the_sends_full_scale_is_read_written_and_no_cable() -> None:
    text = WHOLE.replace("send: {output: 3}", "send: {output: 3, full_scale_dbu: 18}")
    assert text != WHOLE
    wiring = parse_wiring(text, where="wiring")
    assert wiring.send_full_scale_dbu == 18.0
    assert parse_wiring(wiring_text(wiring), where="wiring") == wiring
    assert same_cables(wiring, replace(wiring, send_full_scale_dbu=None))
    assert WIRING.send_full_scale_dbu is None


def test_a_full_scale_that_cannot_be_is_named_with_its_line() -> None:
    text = WHOLE.replace("send: {output: 3}", "send: {output: 3, full_scale_dbu: loud}")
    with pytest.raises(
        UseError, match=r"line 5: send full_scale_dbu is 'loud'; write a number from"
    ):
        parse_wiring(text, where="wiring")
