"""A stretch of a DI as a file of its own: exact but for its faded ends, and over nothing."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from audio.vocab.errors import UseError
from audio.vocab.requests import CutPhrase
from audio.work.phrases import FADE_S, cut_phrase

RATE = 48_000
FADE = round(FADE_S * RATE)


@pytest.fixture
def di(tmp_path: Path) -> Path:
    path = tmp_path / "di.wav"
    codes = np.random.default_rng(5).integers(-(2**30), 2**30, (RATE, 2))
    soundfile.write(path, (codes // 256 * 256).astype(np.int32), RATE, "PCM_24")
    return path


def cut(di: Path, *, at: int, frames: int) -> CutPhrase:
    return CutPhrase(
        path=str(di), channel=1, from_frame=at, frames=frames, to=str(di.parent / "phrase.wav")
    )


def test_all_but_the_fades_is_the_di_to_the_bit(di: Path) -> None:
    facts = cut_phrase(cut(di, at=1000, frames=20_000))
    whole, _ = soundfile.read(di)
    phrase, rate = soundfile.read(di.parent / "phrase.wav")
    assert (facts.frames, facts.encoding, rate) == (20_000, "FLOAT", RATE)
    inner = slice(FADE, -FADE)
    assert np.array_equal(phrase[inner], whole[1000:21_000, 1][inner])
    assert phrase[0] == 0.0
    assert phrase[-1] == 0.0
    assert np.all(np.abs(phrase) <= np.abs(whole[1000:21_000, 1]))


@pytest.mark.parametrize(("at", "frames"), [(-1, 1000), (RATE - 999, 1000)])
def test_a_stretch_that_does_not_lie_in_the_di_is_refused(di: Path, at: int, frames: int) -> None:
    with pytest.raises(UseError, match="choose an earlier beginning"):
        cut_phrase(cut(di, at=at, frames=frames))
    assert not (di.parent / "phrase.wav").exists()


def test_a_file_that_is_there_is_not_written_over(di: Path) -> None:
    (di.parent / "phrase.wav").write_bytes(b"mine")
    with pytest.raises(FileExistsError):
        cut_phrase(cut(di, at=0, frames=2000))
    assert (di.parent / "phrase.wav").read_bytes() == b"mine"
