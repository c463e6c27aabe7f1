"""A section through the simulated room, in its place to the frame, and dropped into a whole pass."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from msgspec.structs import replace
from needs import needs_samples
from playing import write_phrase

from audio.files.inspect import inspect
from audio.files.wave import DATA_AT
from audio.jobs.deck import Deck
from audio.jobs.drop_ins import drop_in
from audio.jobs.passes import run_pass
from audio.jobs.placing import Known
from audio.jobs.recovery import mend
from audio.jobs.talk import Silent
from audio.session import journal, layout, passes, records
from audio.session.folder import create
from audio.session.opened import Session
from audio.session.passes import unfinished
from audio.verdict.joins import moves_by_itself
from audio.vocab.errors import UseError
from audio.vocab.section import Section
from audio.vocab.section_text import parse_section
from audio.vocab.variant import Variant
from audio.vocab.wiring import Amp, Microphone, Return, SimulatedDevice, Wiring
from audio.vocab.wiring_text import wiring_text
from audio.work.client import Worker

pytestmark = [needs_samples(), pytest.mark.slow]

RATE = 48_000
WIRING = Wiring(
    name="tracking room",
    device=SimulatedDevice(
        pace="free",
        inputs=8,
        outputs=8,
        amp=Amp(drive_db=6.0),
        microphones=(Microphone(input=2, distance_cm=4.0), Microphone(input=3, distance_cm=104.0)),
        noise_dbfs=-84.0,
    ),
    sample_rate=RATE,
    send_output=3,
    returns=(Return("close", 2), Return("room", 3)),
    reference="close",
    block_frames=2048,
    tail_s=1.0,
)
PIECE = parse_section("4-5.5 s")


def played(session: Session, section: Section | None, *faults: dict[str, Any]) -> Variant:
    assert isinstance(WIRING.device, SimulatedDevice)
    wiring = replace(WIRING, device=replace(WIRING.device, faults=faults))
    with Deck(wiring, Silent()) as on:
        return run_pass(
            on, session, part_name="riff", chain="crunch", known=Known(), section=section
        ).variant


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> Session:
    folder = tmp_path_factory.mktemp("evening")
    made = create(folder / "evening", name="evening", song="tide", wiring_text=wiring_text(WIRING))
    di = write_phrase(folder / "riff.wav", rate=RATE, seconds=8.0, seed=31)
    return made.add_part(source=di, facts=inspect(di), name="riff")


@pytest.fixture(scope="module")
def whole(session: Session) -> Variant:
    return played(session, None)


@pytest.fixture(scope="module")
def piece(session: Session, whole: Variant) -> Variant:
    assert whole.number == 1
    return played(session, PIECE)


def sound(session: Session, variant: Variant, index: int = 0) -> np.ndarray:
    samples, _ = soundfile.read(session.path(variant.files[index].path), dtype="int32")
    return samples >> 8


def test_a_section_says_what_it_covers_and_carries_its_time_stamp(
    session: Session, whole: Variant, piece: Variant
) -> None:
    assert piece.covers is not None
    assert (piece.covers.from_frame, piece.covers.section_from_frame) == (2 * RATE, 4 * RATE)
    assert piece.covers.frames == round(4.5 * RATE)
    stamp = inspect(session.path(piece.files[0].path)).time_reference
    assert stamp == piece.time_reference == whole.time_reference + 2 * RATE
    folder = layout.pass_folder(session.folder, "riff", piece.number)
    assert records.read_order(folder).covers == piece.covers
    assert records.read_summary(folder).covers == piece.covers


def test_a_section_lies_to_the_frame_where_the_whole_pass_has_it(
    session: Session, whole: Variant, piece: Variant
) -> None:
    """Referee: plain correlation of the two recordings, sample by sample."""
    here = sound(session, piece).astype(float)[RATE : 3 * RATE]
    there = sound(session, whole).astype(float)
    found = [
        float(np.corrcoef(here, there[3 * RATE + k : 5 * RATE + k])[0, 1]) for k in range(-4, 5)
    ]
    assert int(np.argmax(found)) - 4 == whole.shift_frames - piece.shift_frames == 0
    assert max(found) > 0.999


def test_a_section_is_judged_by_what_was_played(piece: Variant) -> None:
    assert [one for one in piece.findings if one.weight != "good"] == []
    assert piece.music is not None
    assert piece.music.delay_frames == pytest.approx(piece.residual_frames, abs=3.0)


def test_a_fault_in_a_section_is_told_where_it_lies_in_the_song(
    session: Session, whole: Variant
) -> None:
    found = played(session, PIECE, {"kind": "dead cable", "input": 3, "after_sound_s": 1.5})
    silent = next(one for one in found.findings if one.code == "silent-from")
    assert whole.covers is None
    assert silent.at_s is not None
    assert 3.4 < silent.at_s < 4.6  # 1.5 s of sound after the lead-in's begin at 2 s
    assert "silent from 0:0" in silent.text
    assert found.verdict == "redo"


# ------------------------------------------------------------------ drop-ins


@pytest.fixture(scope="module")
def made(session: Session, whole: Variant, piece: Variant) -> Variant:
    with Worker() as worker:
        return drop_in(session, worker, part="riff", base=whole.number, section=piece.number)


def test_a_drop_in_is_bit_for_bit_what_it_was_made_of(
    session: Session, whole: Variant, piece: Variant, made: Variant
) -> None:
    assert made.joined is not None
    assert piece.covers is not None
    half, at = made.joined.fade_frames // 2 + 1, piece.covers.from_frame
    first, last = made.joined.from_frame, made.joined.to_frame
    assert 3.5 * RATE <= first <= 4.1 * RATE
    assert 5.4 * RATE <= last <= 6.0 * RATE
    for index in range(2):
        base, new, out = (sound(session, one, index) for one in (whole, piece, made))
        assert out.size == base.size
        np.testing.assert_array_equal(out[: first - half], base[: first - half])
        np.testing.assert_array_equal(out[last + half :], base[last + half :])
        inside = slice(first + half, last - half)
        np.testing.assert_array_equal(out[inside], new[inside.start - at : inside.stop - at])
        assert not np.array_equal(out[inside], base[inside])  # its own noise


def test_a_drop_in_says_what_it_was_made_of(
    session: Session, whole: Variant, piece: Variant, made: Variant
) -> None:
    assert made.joined is not None
    assert (made.state, made.joined.base, made.joined.section) == ("joined", 1, piece.number)
    assert made.covers is None
    assert made.chain == whole.chain
    assert made.time_reference == inspect(session.path(made.files[0].path)).time_reference
    assert [one for one in made.findings if one.weight != "good"] == []
    lines = [one.facts for one in journal.read(session.folder) if one.event == "joined"]
    assert {"part": "riff", "number": made.number, "base": 1, "section": piece.number} in lines
    assert records.newest(session, "riff", before=made.number + 1) != made  # it was not played


def test_what_does_not_fit_is_refused_and_claims_no_number(
    session: Session, whole: Variant, piece: Variant, made: Variant
) -> None:
    before = len(passes.folders(session, "riff"))
    with Worker() as worker:
        for base, section, why in (
            (whole.number, made.number, "is of the whole part"),
            (piece.number, piece.number, "is itself of 4-5.5 s"),
            (whole.number, 99, "has no variant 099"),
        ):
            with pytest.raises(UseError, match=why):
                drop_in(session, worker, part="riff", base=base, section=section)
    assert len(passes.folders(session, "riff")) == before


def test_a_drop_in_that_was_cut_off_is_made_at_the_next_opening(
    session: Session, whole: Variant, made: Variant
) -> None:
    """Whatever of it was there: nothing, half a file, or all but ``variant.json``."""
    decided = records.read_join(layout.pass_folder(session.folder, "riff", made.number))
    for left in ("nothing", "half", "files"):
        claim = passes.claim(session, "riff")
        own = claim.folder.relative_to(session.folder)
        paths = tuple((own / Path(path).name).as_posix() for path in decided.paths)
        records.write_join(claim.folder, replace(decided, number=claim.number, paths=paths))
        if left == "half":
            (claim.folder / f"{Path(paths[0]).name}.part").write_bytes(b"RIFF half of it")
        if left == "files":
            session.path(paths[0]).write_bytes(session.path(made.files[0].path).read_bytes())
        assert [one.number for one in unfinished(session)] == [claim.number]
        with Worker() as worker:
            (mended,) = mend(session, worker)
        assert "it is made now" in mended.text
        found = records.read_variant(claim.folder)
        assert found.state == "joined"
        assert sound(session, found).tobytes() == sound(session, made).tobytes()
        assert not list(claim.folder.glob("*.part"))
    data = session.path(whole.files[0].path).read_bytes()[DATA_AT:][: 3 * whole.files[0].frames]
    assert hashlib.sha256(data).hexdigest() == whole.files[0].audio_sha256


def test_a_chain_that_moves_is_known_by_its_card(whole: Variant, piece: Variant) -> None:
    assert not moves_by_itself(whole)
    content = {"pedals": [{"name": "tremolo", "moves": True}]}
    assert moves_by_itself(replace(piece, chain=replace(piece.chain, content=content)))
