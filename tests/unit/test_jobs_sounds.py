"""The sounds of a part by name: which files they are, and where each lies on the newest DI's timeline."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from msgspec.structs import replace
from session_cases import facts_of, noon, variant, variant_file
from stamped import write_stamped

from audio.jobs.sounds import layers_of
from audio.session import layout, passes, records
from audio.session.folder import create
from audio.session.opened import Session
from audio.vocab.balance import Balance, Fader
from audio.vocab.errors import UseError
from audio.vocab.layers import Layer
from audio.vocab.variant import Variant, VariantFile

RATE = 48_000
PART = "riff"


def recorded(folder: Path, name: str, *, at: int) -> Path:
    return write_stamped(folder / name, np.zeros((10, 2), int), rate=RATE, time_reference=at)


@pytest.fixture
def session(tmp_path: Path) -> Session:
    """A DI at frame 1000 of the recorder, then a newer edit of it that begins 400 frames later."""
    made = create(tmp_path / "evening", name="evening", song="tide")
    first, newer = recorded(tmp_path, "a.wav", at=1000), recorded(tmp_path, "b.wav", at=1400)
    mic = recorded(tmp_path, "mic.wav", at=1300)
    made = made.add_part(source=first, facts=facts_of(first), name=PART, clock=noon)
    made = made.add_revision(PART, source=newer, facts=facts_of(newer), channel=2, clock=noon)
    return made.add_original(
        PART, source=mic, facts=facts_of(mic), channel=2, name="close", clock=noon
    )


def heard_by(name: str) -> VariantFile:
    return variant_file(name, f"passes/{PART}/001/{name}.wav", frames=10, polarity="unsure")


def left(session: Session, *, at: int) -> Variant:
    """Leave a variant of two microphones whose files begin at a frame of the recorder."""
    claim = passes.claim(session, PART)
    files = (heard_by("close"), heard_by("room"))
    made = replace(
        variant(claim.number, part=PART), time_reference=at, files=files, opening_click=()
    )
    records.write_variant(claim.folder, made)
    return made


def test_the_bare_di_is_its_newest_revision_and_begins_the_timeline(session: Session) -> None:
    path = str(session.path(session.part(PART)[1].revisions[-1].file))
    assert layers_of(session, PART, "di") == (Layer(name="di", path=path, channel=1, at_frame=0),)


def test_an_original_lies_by_its_time_stamp_against_the_newest_di(session: Session) -> None:
    path = str(session.path(session.part(PART)[1].originals[0].file))
    lies = (Layer(name="original", path=path, channel=1, at_frame=-100),)
    assert layers_of(session, PART, "original:close") == lies
    assert layers_of(session, PART, "original") == lies


def test_a_variant_of_an_older_edit_lies_where_that_edit_did(session: Session) -> None:
    left(session, at=1000)
    assert {one.at_frame for one in layers_of(session, PART, "001")} == {-400}


def test_a_variant_of_a_section_lies_where_the_section_begins(session: Session) -> None:
    left(session, at=1400 + 2 * RATE)
    assert {one.at_frame for one in layers_of(session, PART, "001")} == {2 * RATE}


def test_a_variant_is_its_microphones_each_as_its_fader_stands(session: Session) -> None:
    left(session, at=1400)
    balance = Balance(faders=(Fader(name="room", db=-6.0),))
    close, room = layers_of(session, PART, "001", balance)
    assert (close.name, close.gain_db, room.name, room.gain_db) == ("close", 0.0, "room", -6.0)
    assert close.path == str(session.folder / "passes" / PART / "001" / "close.wav")
    assert close.channel == 0


def test_a_microphone_that_is_not_heard_is_no_layer(session: Session) -> None:
    left(session, at=1400)
    shut = Balance(faders=(Fader(name="close", db=None),))
    assert [one.name for one in layers_of(session, PART, "001", shut)] == ["room"]
    alone = Balance(solo=("close",))
    assert [one.name for one in layers_of(session, PART, "001", alone)] == ["close"]
    assert layers_of(session, PART, "001", Balance(solo=("gone",))) == ()


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("007", "riff has no variant 007; name one that is there"),
        ("original:room", "riff has no original 'room'; there are: close"),
        ("loud", "riff: 'loud' names no sound"),
        ("7", "names no sound"),
        ("٣", "names no sound"),
        ("", "names no sound"),
    ],
)
def test_a_sound_that_is_not_there_is_refused_with_the_way_out(
    session: Session, key: str, said: str
) -> None:
    with pytest.raises(UseError, match=said):
        layers_of(session, PART, key)


def test_a_part_without_originals_says_how_one_is_added(tmp_path: Path) -> None:
    made = create(tmp_path / "bare", name="bare", song="tide")
    di = recorded(tmp_path, "di.wav", at=0)
    made = made.add_part(source=di, facts=facts_of(di), name=PART, clock=noon)
    with pytest.raises(UseError, match="riff has no original; add one with"):
        layers_of(made, PART, "original")


def test_a_di_that_is_gone_is_said_plainly(session: Session) -> None:
    left(session, at=1400)
    session.path(session.part(PART)[1].revisions[-1].file).unlink()
    with pytest.raises(UseError, match=r"cannot be read: .*; put it back"):
        layers_of(session, PART, "001")


def test_a_pass_that_is_still_finishing_has_no_sound_yet(session: Session) -> None:
    claim = passes.claim(session, PART)
    assert not layout.variant_json(claim.folder).exists()
    with pytest.raises(UseError, match="no variant 001"):
        layers_of(session, PART, "001")
