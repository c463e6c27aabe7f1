"""Two sounds of a part, asked of the worker by their files: places, gains, stretches, what is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from difference_cases import RATE, di, noise
from msgspec.structs import replace

from audio.vocab.answers import Differed, Failed
from audio.vocab.differences import Differences
from audio.vocab.layers import Layer
from audio.vocab.requests import Differ
from audio.vocab.work import Envelope, decode_envelope, encode
from audio.work.process import Desk


def layer(folder: Path, name: str, sound: np.ndarray, *, at: int = 0, rate: int = RATE) -> Layer:
    soundfile.write(folder / f"{name}.wav", sound, rate, "PCM_24")
    return Layer(name=name, path=str(folder / f"{name}.wav"), channel=0, at_frame=at)


@pytest.fixture
def asked(tmp_path: Path) -> Differ:
    """A lies on the DI; B is the same 4 dB down, its file half a second longer at its beginning."""
    early = RATE // 2
    a, b = di() + noise(-75.0, 2), 10 ** (-4 / 20) * (di() + noise(-75.0, 3))
    return Differ(
        di=layer(tmp_path, "di", di()),
        a=(layer(tmp_path, "a", a),),
        b=(layer(tmp_path, "b", np.concatenate((np.zeros(early), b)), at=-early),),
    )


def answer(asked: Differ) -> Differences:
    through = decode_envelope(encode(Envelope(number=1, asked=asked)))
    told = Desk().answer(through.asked)
    assert isinstance(told, Differed), told
    return told.differences


def refusal(asked: Differ) -> str:
    told = Desk().answer(asked)
    assert isinstance(told, Failed)
    assert told.use
    return told.reason


def louder(told: Differences) -> float:
    assert told.loudness is not None
    return told.loudness.db


def test_files_are_laid_where_their_layers_say_and_compared_over_what_both_hold(
    asked: Differ,
) -> None:
    told = answer(asked)
    assert (told.from_frame, told.frames) == (0, di().size)
    assert louder(told) == pytest.approx(-4.0, abs=0.05)


def test_microphones_are_heard_together_each_at_its_gain(asked: Differ) -> None:
    """Twice the same microphone is 6.02 dB more; one of them 6.02 dB down makes 3.52 dB in all."""
    twice = replace(asked, b=(*asked.b, replace(asked.b[0], gain_db=-6.0206)))
    assert louder(answer(twice)) == pytest.approx(-4.0 + 20 * np.log10(1.5), abs=0.05)


def test_only_the_stretch_that_was_asked_for_is_compared(asked: Differ) -> None:
    told = answer(replace(asked, from_frame=4 * RATE, frames=5 * RATE))
    assert (told.from_frame, told.frames) == (4 * RATE, 5 * RATE)
    assert louder(told) == pytest.approx(-4.0, abs=0.05)


def test_a_stretch_that_both_hardly_hold_is_refused(asked: Differ) -> None:
    late = replace(asked, a=(replace(asked.a[0], at_frame=di().size - RATE // 2),))
    assert "have 0.5 s in common there; 1 s at least" in refusal(late)
    assert "have 0.0 s in common" in refusal(replace(asked, from_frame=99 * RATE, frames=RATE))


def test_a_sound_with_every_fader_shut_is_refused(asked: Differ) -> None:
    assert "no microphone that is heard" in refusal(replace(asked, b=()))


def test_rates_that_differ_are_refused_with_both(asked: Differ, tmp_path: Path) -> None:
    other = layer(tmp_path, "other", di(), rate=8000)
    assert "16000 Hz and" in refusal(replace(asked, b=(other,)))


def test_a_channel_that_is_not_there_is_refused(asked: Differ) -> None:
    wrong = replace(asked, b=(replace(asked.b[0], channel=1),))
    assert "has 1 channel; channel 2 was asked for" in refusal(wrong)


def test_a_sample_that_is_no_number_is_refused_with_its_place(
    asked: Differ, tmp_path: Path
) -> None:
    bad = di().copy()
    bad[5 * RATE] = np.nan
    soundfile.write(tmp_path / "bad.wav", bad, RATE, "FLOAT")
    layers = (replace(asked.b[0], path=str(tmp_path / "bad.wav"), at_frame=0),)
    assert f"no number, at frame {5 * RATE} of" in refusal(replace(asked, b=layers))
