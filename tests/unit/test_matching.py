"""Any balance and any stretch of sounds, from what was read once: equal to measuring the mix itself.

Referee: pyloudnorm, on the mix read from its files and added up sample by sample.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from matched import (
    RATE,
    Sound,
    asked,
    dbtp,
    eight_times,
    microphones,
    mixed,
    referee_lufs,
    sounds_of,
    write,
)
from msgspec import structs

from audio.vocab.answers import Failed, SoundsMatched
from audio.vocab.layers import Layer
from audio.vocab.matching import Matched, SoundLevel
from audio.vocab.units import SILENCE_DBFS, ratio_from_db
from audio.work import matching
from audio.work.client import Worker
from audio.work.matching import Matching
from audio.work.process import Desk

FRAMES = 5 * RATE


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Sound:
    """Three microphones before one amp, with rests."""
    return sounds_of(tmp_path_factory.mktemp("sound"), [1], seconds=5.0, many=3)[0]


@pytest.fixture(scope="module")
def known(sound: Sound) -> Matching:
    """What has read all of it."""
    matching = Matching()
    matching.match(asked(sound, frames=FRAMES))
    return matching


@pytest.fixture
def unread(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let no file be opened any more."""

    def refuse(path: Path) -> None:
        raise AssertionError(f"{path} was opened")

    monkeypatch.setattr(matching, "SourceFile", refuse)


def at(sound: Sound, *gains_db: float | None) -> Sound:
    """Return a sound with its faders at gains, without those that are shut."""
    return tuple(
        structs.replace(layer, gain_db=gain)
        for layer, gain in zip(sound, gains_db, strict=True)
        if gain is not None
    )


def level(matching: Matching, *layers: Layer, frames: int = FRAMES, **more: object) -> SoundLevel:
    return matching.match(asked(layers, frames=frames, **more)).sounds[0]


# ------------------------------------------------------------------ faders

fader = st.none() | st.floats(-40.0, 0.0)


@settings(max_examples=15)
@given(st.tuples(fader, fader, fader).filter(any))
def test_any_faders_read_as_the_file_they_make(
    sound: Sound, known: Matching, faders: tuple[float | None, ...]
) -> None:
    heard = at(sound, *faders)
    mix = mixed(heard, frames=FRAMES)
    found = level(known, *heard)
    assert found.loudness_lufs == pytest.approx(referee_lufs(mix), abs=0.01)
    first = level(known, *heard, frames=RATE // 2).peak_dbtp
    assert first >= dbtp(eight_times(mix[: RATE // 2])) - 0.2  # values between those at 192 kHz


@pytest.mark.usefixtures("unread")
def test_a_moved_fader_and_a_solo_read_no_file(sound: Sound, known: Matching) -> None:
    for heard in (at(sound, -3.0, -40.0, 0.0), sound[1:2], sound[::-1]):
        expected = referee_lufs(mixed(heard, frames=FRAMES))
        assert level(known, *heard).loudness_lufs == pytest.approx(expected, abs=0.01)


def test_microphones_that_cancel_are_as_quiet_as_what_is_left_of_them(tmp_path: Path) -> None:
    draw = 0.2 * np.random.default_rng(3).standard_normal(2 * RATE)
    pair = (write(tmp_path / "a.wav", draw), write(tmp_path / "b.wav", -draw))
    found = level(Matching(), *at(pair, 0.0, -0.1), frames=draw.size)
    left = referee_lufs(mixed(at(pair, 0.0, -0.1), frames=draw.size))
    assert found.loudness_lufs == pytest.approx(left, abs=0.01)
    assert left < referee_lufs(draw) - 38.0


# ------------------------------------------------------------------ stretches


@pytest.mark.parametrize("from_frame", [0, 480, 1, 241, 479, 50_123, 99_999])
def test_a_stretch_may_begin_between_the_pieces(
    sound: Sound, known: Matching, from_frame: int
) -> None:
    frames = 2 * RATE
    heard = at(sound, -1.0, -7.0, -3.0)
    whole = mixed(heard, from_frame=from_frame, frames=frames)
    found = level(known, *heard, from_frame=from_frame, frames=frames)
    assert found.loudness_lufs == pytest.approx(referee_lufs(whole), abs=0.02)


@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_other_rates_are_measured_alike(tmp_path: Path, rate: int) -> None:
    one = microphones(4, seconds=2.0, many=1, rate=rate)[0]
    layer = write(tmp_path / "one.wav", one, rate=rate)
    found = level(Matching(), layer, frames=one.size, sample_rate=rate)
    assert found.loudness_lufs == pytest.approx(referee_lufs(one, rate=rate), abs=0.01)


def test_a_stretch_that_moved_reads_as_one_that_was_never_asked_for_before(sound: Sound) -> None:
    moved = Matching()
    for from_frame in (0, 100_000, 50_001):
        told = [
            one.match(asked(sound, from_frame=from_frame, frames=2 * RATE))
            for one in (moved, Matching())
        ]
        assert told[0] == told[1]


def test_rests_do_not_count_and_shut_gates_say_nothing_of_peaks(tmp_path: Path) -> None:
    draw = np.random.default_rng(5).standard_normal(2 * RATE)
    loud, faint = 0.1 * draw, 1e-5 * draw
    whole = np.concatenate((faint, loud, faint, loud, faint))
    layer = write(tmp_path / "rests.wav", whole)
    found = level(Matching(), layer, frames=whole.size)
    assert found.loudness_lufs == pytest.approx(referee_lufs(whole), abs=0.01)
    assert found.loudness_lufs == pytest.approx(referee_lufs(loud), abs=1.0)  # not 4 LU less
    rest = level(Matching(), layer, frames=RATE)
    assert rest.loudness_lufs is None
    # White noise reaches up to half the rate, where a meter after BS.1770 may miss 0.4 dB (EBU Tech 3341).
    assert rest.peak_dbtp == pytest.approx(dbtp(eight_times(faint[:RATE])), abs=0.4)


def test_what_a_file_does_not_hold_is_silence(sound: Sound) -> None:
    late = structs.replace(sound[0], at_frame=RATE + 77, gain_db=0.0)
    early = structs.replace(sound[1], at_frame=-4 * RATE, gain_db=0.0)
    expected = mixed((late, early), from_frame=-RATE, frames=9 * RATE)
    found = level(Matching(), late, early, from_frame=-RATE, frames=9 * RATE)
    assert found.loudness_lufs == pytest.approx(referee_lufs(expected), abs=0.02)
    before = level(Matching(), late, from_frame=-RATE, frames=RATE)
    assert (before.loudness_lufs, before.peak_dbtp) == (None, SILENCE_DBFS)


def test_both_channels_of_a_file_are_two_layers(tmp_path: Path) -> None:
    both = microphones(6, seconds=2.0, many=2)
    left = write(tmp_path / "both.wav", both.T)
    right = Layer(path=left.path, channel=1, gain_db=-6.0)
    found = level(Matching(), left, right, frames=2 * RATE)
    expected = referee_lufs(both[0] + ratio_from_db(-6.0) * both[1])
    assert found.loudness_lufs == pytest.approx(expected, abs=0.01)


def test_a_layer_that_is_there_twice_is_twice_as_high(sound: Sound) -> None:
    once, twice = (level(Matching(), *[sound[0]] * n, frames=RATE) for n in (1, 2))
    assert twice.peak_dbtp == pytest.approx(once.peak_dbtp + 6.02, abs=0.01)


# ------------------------------------------------------------------ silence, and too short


def test_silence_has_no_loudness_and_turns_nothing_down(tmp_path: Path, sound: Sound) -> None:
    silent = write(tmp_path / "silent.wav", np.zeros(FRAMES))
    told = Matching().match(asked(sound, [silent], [], frames=FRAMES)).sounds
    assert [one.loudness_lufs is None for one in told] == [False, True, True]
    assert [one.match_db for one in told] == [0.0, 0.0, 0.0]
    assert [one.peak_dbtp for one in told[1:]] == [SILENCE_DBFS] * 2


@pytest.mark.parametrize(("frames", "long_enough"), [(19_199, False), (19_200, True)])
def test_less_than_a_block_of_400_ms_has_no_loudness_but_a_peak(
    sound: Sound, known: Matching, frames: int, long_enough: bool
) -> None:
    found = level(known, *sound, frames=frames)
    assert (found.loudness_lufs is not None) is long_enough
    assert found.peak_dbtp > -40.0


def test_the_common_cut_counts_what_plays_under_all(tmp_path: Path) -> None:
    # A constant is its own peak; two sounds at half, √2 times in a flip, and a quarter under them.
    held = [write(tmp_path / f"{k}.wav", np.full(RATE, 0.5)) for k in range(2)]
    under = [write(tmp_path / "under.wav", np.full(RATE, 0.25))]
    plain = asked(*[[one] for one in held], under=under, from_frame=RATE // 4, frames=RATE // 2)
    reached = 20 * np.log10(0.25 + 0.5 * np.sqrt(2.0))
    hidden = -20 * np.log10(np.cos(np.pi / 8))  # between values at 192 kHz, as the module says
    assert Matching().match(plain).cut_plain_db == pytest.approx(-1.0 - reached - hidden, abs=0.01)
    quiet = structs.replace(plain, under=(), sounds=((structs.replace(held[0], gain_db=-20.0),),))
    assert Matching().match(quiet).cut_plain_db == 0.0


def test_a_gate_that_closes_when_all_is_turned_down_is_reckoned_with(tmp_path: Path) -> None:
    # Half of one is so faint that it falls under −70 LUFS once it is matched, and none of the other.
    draw = np.random.default_rng(8).standard_normal(4 * RATE)
    shape = np.where(np.arange(draw.size) < draw.size // 2, 1.0, 0.4)
    sounds = [
        [write(tmp_path / "two.wav", 0.02 * draw * shape)],
        [write(tmp_path / "one.wav", 0.0005 * draw)],
    ]
    told = Matching().match(asked(*sounds, frames=draw.size))
    heard = [
        referee_lufs(ratio_from_db(one.match_db) * mixed(sound, frames=draw.size))
        for one, sound in zip(told.sounds, sounds, strict=True)
    ]
    assert heard[0] == pytest.approx(heard[1], abs=0.02)


# ------------------------------------------------------------------ what is remembered


def test_the_sound_that_was_not_asked_for_longest_is_forgotten(tmp_path: Path) -> None:
    first, second, third = sounds_of(tmp_path, [1, 2, 3], seconds=1.0, many=2)
    one = Matching()
    one.match(asked(first, frames=RATE))
    kept = Matching(most_bytes=2 * one.bytes)
    answers = [kept.match(asked(sound, frames=RATE)) for sound in (first, second, first, third)]
    assert kept.bytes == 2 * one.bytes
    assert answers[0] == answers[2]
    assert {key.places[0].path for key in kept._mixes} == {first[0].path, third[0].path}
    # and one that is larger than all that may be kept is answered all the same
    assert Matching(most_bytes=1).match(asked(first, second, frames=RATE)) == Matching().match(
        asked(first, second, frames=RATE)
    )


def test_a_file_that_was_replaced_is_read_again(tmp_path: Path) -> None:
    draw = 0.1 * np.random.default_rng(2).standard_normal(RATE)
    layer = write(tmp_path / "one.wav", draw)
    matching = Matching()
    before = level(matching, layer, frames=RATE).loudness_lufs
    write(tmp_path / "one.wav", 0.5 * draw)
    os.utime(layer.path, ns=(0, 0))
    after = level(matching, layer, frames=RATE).loudness_lufs
    assert before is not None
    assert after == pytest.approx(before - 6.02, abs=0.01)


def test_what_plays_under_them_may_be_one_of_the_sounds(sound: Sound) -> None:
    matching = Matching()
    silent_under = matching.match(asked(sound[:1], frames=RATE))
    both = matching.match(asked(sound[:1], under=sound[:1], frames=RATE))
    other_way = Matching()
    other_way.match(asked([], under=sound[:1], frames=RATE))
    assert other_way.match(asked(sound[:1], frames=RATE)) == silent_under
    assert both.sounds == silent_under.sounds


# ------------------------------------------------------------------ through the worker, and refusals


@pytest.fixture
def worker() -> Iterator[Worker]:
    with Worker() as worker:
        yield worker


@pytest.mark.slow
def test_the_worker_answers_and_remembers(worker: Worker, sound: Sound) -> None:
    question = asked(sound, sound[:1], under=sound[1:2], frames=FRAMES)
    told = worker.match(question)
    assert isinstance(told, Matched)
    assert told == Matching().match(question)
    assert worker.match(question) == told


def refused(question: object) -> str:
    answered = Desk().answer(question)
    assert isinstance(answered, Failed)
    assert answered.use
    return answered.reason


def test_what_cannot_be_matched_is_refused_in_one_sentence(tmp_path: Path) -> None:
    good = write(tmp_path / "good.wav", np.full(RATE, 0.1))
    other = write(tmp_path / "other.wav", np.full(RATE, 0.1), rate=44_100)
    broken = np.full(RATE, 0.1)
    broken[100] = np.nan
    torn = write(tmp_path / "torn.wav", broken)
    (tmp_path / "text.wav").write_text("words")
    text, gone = (structs.replace(good, path=str(tmp_path / n)) for n in ("text.wav", "gone.wav"))
    plain = asked([good], frames=RATE)
    assert isinstance(Desk().answer(plain), SoundsMatched)
    assert "no sound was named" in refused(asked(frames=RATE))
    assert "one frame to an hour" in refused(asked([good], frames=0))
    assert "one frame to an hour" in refused(asked([good], frames=3601 * RATE))
    assert "at most 60 dB" in refused(asked([structs.replace(good, gain_db=61.0)], frames=RATE))
    assert "other.wav is at 44100, its part at 48000" in refused(asked([other], frames=RATE))
    assert "gone.wav cannot be opened" in refused(asked([good], under=[gone], frames=RATE))
    assert "text.wav is not a sound file" in refused(asked([text], frames=RATE))
    assert "torn.wav holds a sample that is no number" in refused(asked([torn], frames=RATE))
    second = structs.replace(good, channel=1)
    assert "channel 2 was asked for" in refused(asked([second], frames=RATE))


def test_a_file_asked_for_at_another_rate_is_refused_though_it_is_known(tmp_path: Path) -> None:
    layer = write(tmp_path / "one.wav", np.full(RATE, 0.1))
    desk = Desk()
    assert isinstance(desk.answer(asked([layer], frames=RATE)), SoundsMatched)
    answered = desk.answer(asked([layer], frames=RATE, sample_rate=44_100))
    assert isinstance(answered, Failed)


def test_a_truncated_file_is_silent_behind_its_end(tmp_path: Path) -> None:
    path = tmp_path / "cut.wav"
    soundfile.write(path, np.full(RATE, 0.1), RATE, "PCM_24")
    path.write_bytes(path.read_bytes()[: 44 + 3 * RATE // 2])
    found = level(Matching(), Layer(path=str(path)), from_frame=RATE * 3 // 4, frames=RATE // 5)
    assert found.peak_dbtp == SILENCE_DBFS
