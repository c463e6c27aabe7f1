"""A sound then and now, asked of the worker by its files."""

from pathlib import Path

import msgspec
import numpy as np
import pytest
import soundfile
from likeness_cases import RATE, amplified, di, noise

from audio.vocab.answers import Likened
from audio.vocab.likeness import Recorded, Takes
from audio.vocab.requests import CompareSounds
from audio.vocab.work import Envelope, decode_envelope, encode
from audio.work.process import Desk

AT = 1000
"""Frames of something else before the stretch in every recording."""


@pytest.fixture
def asked(tmp_path: Path) -> CompareSounds:
    before = np.zeros(AT)
    kept = amplified(24.0)
    for name, sound in {
        "kept": kept + noise(1),
        "again": kept + noise(2),
        "now": 0.5 * kept + noise(3),
    }.items():
        soundfile.write(tmp_path / f"{name}.wav", np.concatenate((before, sound)), RATE, "PCM_24")
    # The DI's rest behind it lies outside its file.
    soundfile.write(tmp_path / "di.wav", di()[:-RATE], RATE, "PCM_24")
    return CompareSounds(
        di=Recorded(path=str(tmp_path / "di.wav")),
        frames=di().size,
        returns=(
            Takes(
                name="close",
                kept=Recorded(path=str(tmp_path / "kept.wav"), at_frame=AT),
                again=Recorded(path=str(tmp_path / "again.wav"), at_frame=AT),
                now=Recorded(path=str(tmp_path / "now.wav"), at_frame=AT),
            ),
        ),
    )


def refused(asked: CompareSounds, **changes: object) -> str:
    answered = Desk().answer(msgspec.structs.replace(asked, **changes))
    assert type(answered).__name__ == "Failed"
    assert answered.use
    return str(answered.reason)


def test_files_are_compared(asked: CompareSounds) -> None:
    answered = Desk().answer(decode_envelope(encode(Envelope(number=1, asked=asked))).asked)
    assert isinstance(answered, Likened)
    (one,) = answered.compared.returns
    assert one.level_db == pytest.approx(-6.02, abs=0.01)
    assert one.level_floor_db == pytest.approx(0.0, abs=0.01)
    assert one.delay_frames == pytest.approx(0.0, abs=0.05)
    assert answered.compared.kept_twice
    assert answered.compared.playing_s == pytest.approx(6.0, abs=1.5)


def test_a_stretch_that_is_too_short_or_too_long_is_refused(asked: CompareSounds) -> None:
    assert "2 to 60 s" in refused(asked, frames=RATE)
    assert "2 to 60 s" in refused(asked, frames=61 * RATE)


def test_a_recording_that_ends_early_is_refused(asked: CompareSounds) -> None:
    (takes,) = asked.returns
    late = msgspec.structs.replace(takes, now=Recorded(path=takes.now.path, at_frame=AT + 1))
    assert "does not hold the whole stretch" in refused(asked, returns=(late,))


def test_another_rate_is_refused(asked: CompareSounds, tmp_path: Path) -> None:
    soundfile.write(tmp_path / "slow.wav", np.zeros(di().size), 44_100, "PCM_24")
    (takes,) = asked.returns
    slow = msgspec.structs.replace(takes, now=Recorded(path=str(tmp_path / "slow.wav")))
    assert "44100 Hz" in refused(asked, returns=(slow,))


def test_returns_are_named_once_each(asked: CompareSounds) -> None:
    assert "each once" in refused(asked, returns=())
    assert "each once" in refused(asked, returns=(*asked.returns, *asked.returns))
