"""``secondpass differ``: figures, words and picture of two sounds, one JSON object, and what it refuses."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import pytest
from installed import Ran, run
from msgspec.structs import replace
from stamped import write_stamped

sys.path.append(str(Path(__file__).parents[1] / "unit"))

from difference_cases import RATE, di, noise
from session_cases import facts_of, noon, variant

from audio.jobs.differing import sounds_apart
from audio.session import passes, records
from audio.session.folder import create
from audio.session.opened import Session
from audio.vocab.errors import UseError
from audio.vocab.section_text import parse_section
from audio.vocab.variant import VariantFile
from audio.work.client import Worker

PART = "riff"
AT = 9_000


def written(path: Path, sound: np.ndarray) -> Path:
    codes = np.rint(sound * (2**23 - 1)).astype(int)[:, None]
    path.parent.mkdir(parents=True, exist_ok=True)
    return write_stamped(path, codes, rate=RATE, time_reference=AT)


@pytest.fixture
def session(tmp_path: Path) -> Session:
    """A part with two variants, the second 4 dB down."""
    made = create(tmp_path / "evening", name="evening", song="tide")
    source = written(tmp_path / "riff.wav", di())
    made = made.add_part(source=source, facts=facts_of(source), name=PART, clock=noon)
    for gain in (1.0, 10 ** (-4 / 20)):
        claim = passes.claim(made, PART)
        sound = gain * (di() + noise(-75.0, claim.number))
        path = written(claim.folder / "close.wav", sound)
        one = VariantFile(
            return_name="close", input=2, path=path.relative_to(made.folder).as_posix(),
            frames=sound.size, audio_sha256="ab" * 32, peak_dbfs=-6.0, clipped_runs=0,
            loudness_lufs=None, polarity="unsure", extra_delay_frames=None, noise_dbfs=None,
            hum_hz=None, hum_dbfs=None,
        )  # fmt: skip
        kept = replace(
            variant(claim.number, part=PART), time_reference=AT, files=(one,), opening_click=()
        )
        records.write_variant(claim.folder, kept)
    return made


def differ(session: Session, *more: str) -> Ran:
    told = ("differ", session.folder.name, "--part", PART, "--number", "1")
    return run(*told, *more, folder=session.folder.parent)


@pytest.mark.slow
def test_figures_words_and_picture_are_printed_and_nothing_in_the_session_changes(
    session: Session,
) -> None:
    before = {path: path.stat().st_mtime_ns for path in session.folder.rglob("*")}
    ran = differ(session, "--other", "2")
    assert ran.code == 0, ran.err
    lines = ran.out.splitlines()
    assert lines[0] == " riff  A 001 fuzz  ·  B 002 fuzz  the whole"
    assert "   4.0 dB quieter" in lines
    assert any(line.startswith("    Hz") for line in lines)
    assert {path: path.stat().st_mtime_ns for path in session.folder.rglob("*")} == before


@pytest.mark.slow
def test_json_is_one_object_and_the_bare_di_can_be_held_against(session: Session) -> None:
    told = json.loads(differ(session, "--other", "di", "--seconds", "3-9", "--json").out)
    assert (told["a"], told["b"], told["b_text"]) == ("001", "di", "the bare DI")
    assert told["covers"] == "3-9 s"
    assert told["differences"]["from_frame"] == 3 * RATE
    assert told["differences"]["frames"] == 6 * RATE
    assert abs(told["differences"]["loudness"]["db"]) < 0.1


@pytest.mark.slow
def test_two_sounds_of_a_session_are_compared_in_one_go(session: Session) -> None:
    with Worker() as worker:
        told = sounds_apart(session, worker, PART, "001", "002", section=parse_section("2-8 s"))
        assert told.words == ("4.0 dB quieter",)
        with pytest.raises(UseError, match="are the same sound; name two"):
            sounds_apart(session, worker, PART, "001", "001")
        with pytest.raises(UseError, match="riff has no variant 009"):
            sounds_apart(session, worker, PART, "001", "009")


def test_a_sound_that_cannot_be_named_is_refused_before_anything_is_read(session: Session) -> None:
    ran = differ(session, "--other", "loud")
    assert ran.code == 2
    assert "loud" in ran.err
