"""Playing from files: any place, exact codes, silence outside."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile
from captures import phrase, ramp, start
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from needs import needs_samples

from audio.files.source import SourceFile
from audio.vocab.errors import UseError

KINDS = [
    ("WAV", "PCM_16", 16),
    ("FLAC", "PCM_24", 24),
    ("AIFF", "PCM_24", 24),
    ("RF64", "FLOAT", None),
]


@needs_samples()
@pytest.mark.parametrize(("format_", "encoding", "bits"), KINDS)
@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=15, deadline=None
)
@given(reads=st.lists(st.tuples(st.integers(-3000, 200_000), st.integers(0, 5000)), max_size=6))
def test_any_stretch_is_what_the_whole_file_holds_there(tmp_path, format_, encoding, bits, reads):
    path = tmp_path / "di.x"
    if not path.exists():
        soundfile.write(path, phrase(channels=2), 48_000, subtype=encoding, format=format_)
    whole = np.pad(soundfile.read(path)[0], ((3000, 10_000), (0, 0)))
    source = SourceFile(path)
    assert (source.rate, source.channels, source.integer_bits) == (48_000, 2, bits)
    assert source.frames == whole.shape[0] - 13_000
    for first, frames in reads:
        wanted = np.zeros(frames)
        there = whole[first + 3000 : first + 3000 + frames, 1]
        wanted[: there.size] = there
        assert np.array_equal(source.read(first, frames, channel=1), wanted)
    source.close()


def test_24_bit_codes_are_exact(tmp_path):
    capture = start(tmp_path / "a.wav")
    capture.write(ramp(0, 5000))
    capture.close()
    got = SourceFile(tmp_path / "a.wav").read(0, 5000, channel=0) * 2**31
    assert np.array_equal(got, ramp(0, 5000)[:, 0])


class Watched:
    """A sound file that tells where it was sent to."""

    def __init__(self, sound) -> None:
        self.sound = sound
        self.places: list[int] = []

    def seek(self, at: int) -> None:
        self.places.append(at)
        self.sound.seek(at)

    def read(self, *args, **options):
        return self.sound.read(*args, **options)


def test_reading_on_never_seeks_and_going_back_does(tmp_path):
    soundfile.write(tmp_path / "a.wav", np.zeros((50_000, 2)), 48_000)
    source = SourceFile(tmp_path / "a.wav")
    watched = source._sound = Watched(source._sound)
    for first in range(-512, 51_000, 500):
        source.read(first, 500, channel=1)
    assert watched.places == []
    source.read(512, 20_000, channel=1)
    assert watched.places == [512]


def test_a_file_that_became_shorter_goes_on_as_silence(tmp_path):
    soundfile.write(tmp_path / "a.wav", np.full(50_000, 0.5), 48_000, subtype="PCM_24")
    source = SourceFile(tmp_path / "a.wav")
    with (tmp_path / "a.wav").open("r+b") as file:
        file.truncate(44 + 3 * 20_000)
    got = source.read(0, 50_000, channel=0)
    assert np.array_equal(got, np.repeat([0.5, 0.0], [20_000, 30_000]))


def test_a_file_that_is_none_is_refused_like_a_di(tmp_path):
    with pytest.raises(UseError, match="cannot be opened: No such file"):
        SourceFile(tmp_path / "gone.wav")


def test_a_channel_that_is_not_there_is_refused(tmp_path):
    soundfile.write(tmp_path / "a.wav", np.zeros(100), 48_000)
    source = SourceFile(tmp_path / "a.wav")
    with pytest.raises(UseError, match="has 1 channel; channel 2 was asked for"):
        source.read(0, 10, channel=1)
