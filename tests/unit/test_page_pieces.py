"""Pieces of the listening page, read again by libsndfile: the sum at the balance, joined without a seam."""

from __future__ import annotations

import subprocess
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import soundfile
from listening_pages import RATE, flac_of, noise
from needs import needs_program
from scipy import signal

from audio.vocab.errors import UseError
from audio.vocab.layers import Layer
from audio.vocab.page import decimation, edges
from audio.vocab.requests import MakePiece
from audio.work.pieces import decimator, make_piece

LSB = 1.0 / 2**15


def layer(folder: Path, name: str, sound: np.ndarray, *, rate: int = RATE, **where: float) -> Layer:
    path = folder / f"{name}.wav"
    soundfile.write(path, sound, rate, "DOUBLE")
    return Layer(path=str(path), **where)


def pieces(
    folder: Path,
    *channels: tuple[Layer, ...],
    cuts: tuple[int, ...],
    rate: int = RATE,
    **more: float,
) -> np.ndarray:
    """Make all pieces between some frames of the page; return them joined, linear, (frames, channels)."""
    found = []
    by = decimation(rate)
    for number, (start, end) in enumerate(pairwise(cuts)):
        to = folder / f"abc-{number}.js"
        asked = MakePiece(channels=channels, from_frame=start * by, frames=(end - start) * by, by=by,
                          sample_rate=rate, to=str(to), track="abc", number=number, **more)  # fmt: skip
        make_piece(asked)
        (folder / "piece.flac").write_bytes(flac_of(to))
        sound, there = soundfile.read(folder / "piece.flac", dtype="int16", always_2d=True)
        assert there == rate // by
        found.append(sound)
    return np.concatenate(found) / 2.0**15


def test_pieces_join_to_the_sum_at_the_balance_within_rounding_and_dither(tmp_path: Path) -> None:
    close, room = noise(1, seconds=2), noise(2, seconds=2)
    layers = (
        layer(tmp_path, "close", close, gain_db=-3.0),
        layer(tmp_path, "room", room, gain_db=-9.5, at_frame=-700),
    )
    whole = close * 10 ** (-3 / 20)
    whole[:-700] += room[700:] * 10 ** (-9.5 / 20)
    whole *= 10 ** (4 / 20)
    joined = pieces(tmp_path, layers, cuts=(0, 1000, 30_001, 96_000), gain_db=4.0)
    # rounding is half a code, triangular dither one: no error is larger, nowhere, joints included
    error = joined[:, 0] - whole
    assert joined.shape == (96_000, 1)
    assert np.max(np.abs(error)) <= 1.5 * LSB
    # Their power is 1/12 + 1/6 of a code squared (Lipshitz, Wannamaker, Vanderkooy 1992).
    assert np.mean(error**2) == pytest.approx(0.25 * LSB**2, rel=0.02)
    assert abs(np.corrcoef(error, whole)[0, 1]) < 0.02


def test_each_channel_of_a_backing_track_is_its_own(tmp_path: Path) -> None:
    stereo = np.stack([noise(3, seconds=1), noise(4, seconds=1)], axis=1)
    left = layer(tmp_path, "band", stereo)
    right = Layer(path=left.path, channel=1)
    joined = pieces(tmp_path, (left,), (right,), cuts=(0, 20_000, RATE))
    assert np.max(np.abs(joined - stereo)) <= 1.5 * LSB


def test_silence_around_a_section_is_digital_silence_and_weighs_nothing(tmp_path: Path) -> None:
    short = layer(tmp_path, "short", noise(5, seconds=0.5), at_frame=RATE)
    joined = pieces(tmp_path, (short,), cuts=(0, 8 * RATE))[:, 0]
    assert not np.any(joined[:RATE])
    assert not np.any(joined[RATE + RATE // 2 :])
    assert (tmp_path / "abc-0.js").stat().st_size < 1.5 * 2 * RATE // 2


def test_the_same_request_leaves_the_same_bytes_and_another_piece_other_dither(
    tmp_path: Path,
) -> None:
    quiet = layer(tmp_path, "quiet", np.full(4000, 0.3 * LSB))
    pieces(tmp_path, (quiet,), cuts=(0, 2000, 4000))
    first = [(tmp_path / f"abc-{k}.js").read_bytes() for k in (0, 1)]
    pieces(tmp_path, (quiet,), cuts=(0, 2000, 4000))
    assert [(tmp_path / f"abc-{k}.js").read_bytes() for k in (0, 1)] == first
    assert flac_of(tmp_path / "abc-0.js") != flac_of(tmp_path / "abc-1.js")


def test_what_would_go_over_full_scale_is_held_at_it(tmp_path: Path) -> None:
    loud = layer(tmp_path, "loud", np.array([0.9, -0.9, 0.1] * 100))
    joined = pieces(tmp_path, (loud,), cuts=(0, 300), gain_db=6.0)[:, 0]
    assert (joined.max(), joined.min()) == (1.0 - LSB, -1.0)


@needs_program("flac", package="flac")
def test_a_piece_passes_the_reference_decoder_s_own_test(tmp_path: Path) -> None:
    sound = layer(tmp_path, "sound", noise(6, seconds=1))
    pieces(tmp_path, (sound,), cuts=(0, RATE))
    subprocess.run(["flac", "-t", "-s", "-w", tmp_path / "piece.flac"], check=True)


def test_a_sample_that_is_no_number_is_refused(tmp_path: Path) -> None:
    broken = layer(tmp_path, "broken", np.array([0.0, np.nan, 0.0]))
    with pytest.raises(UseError, match="no number; export it again"):
        pieces(tmp_path, (broken,), cuts=(0, 3))
    assert not list(tmp_path.glob("*.js"))


def test_a_file_of_another_rate_is_refused(tmp_path: Path) -> None:
    other = layer(tmp_path, "other", np.zeros(100), rate=44_100)
    with pytest.raises(UseError, match="they must agree"):
        pieces(tmp_path, (other,), cuts=(0, 100))


# ------------------------------------------------------------------ over 48 kHz


@pytest.mark.parametrize(
    ("rate", "by"), [(44_100, 1), (48_000, 1), (88_200, 2), (96_000, 2), (176_400, 4), (192_000, 4)]
)
def test_the_page_plays_at_most_48_khz(rate: int, by: int) -> None:
    assert decimation(rate) == by


@pytest.mark.parametrize(("rate", "by"), [(88_200, 2), (96_000, 2), (176_400, 4), (192_000, 4)])
def test_the_filter_is_flat_to_20_khz_and_100_db_down_where_aliases_would_come_from(
    rate: int, by: int
) -> None:
    taps = decimator(rate, by=by)
    assert np.array_equal(taps, taps[::-1])
    assert taps.size % 2 == 1
    hz, response = signal.freqz(taps, worN=1 << 15, fs=rate)
    with np.errstate(divide="ignore"):
        db = 20 * np.log10(np.abs(response))
    assert np.max(np.abs(db[hz <= 20_000 * 0.999])) < 1e-3
    assert np.max(db[hz >= rate / by / 2]) < -100


@pytest.mark.parametrize(("rate", "by"), [(88_200, 2), (192_000, 4)])
def test_decimated_pieces_join_to_what_scipy_makes_of_the_whole_and_nothing_moves(
    tmp_path: Path, rate: int, by: int
) -> None:
    at = np.arange(rate) / rate
    sound = 0.3 * np.sin(2 * np.pi * 997.0 * at) + 0.05 * noise(7, seconds=1, rate=rate)
    one = layer(tmp_path, "one", sound, rate=rate)
    joined = pieces(tmp_path, (one,), cuts=(0, 5000, 5001, rate // by), rate=rate)[:, 0]
    taps = decimator(rate, by=by)
    there = signal.fftconvolve(sound, taps, mode="full")[taps.size // 2 :][:rate:by]
    assert np.max(np.abs(joined - there)) <= 1.51 * LSB
    # a plain tone far from the ends comes back where it was, to a thousandth of a degree
    tone = layer(tmp_path, "tone", 0.5 * np.sin(2 * np.pi * 997.0 * at), rate=rate)
    middle = pieces(tmp_path, (tone,), cuts=(0, rate // by), rate=rate)[2000:-2000, 0]
    phase = np.angle(np.vdot(np.exp(2j * np.pi * 997.0 * at[::by][2000:-2000]), middle))
    assert np.degrees(phase) == pytest.approx(-90.0, abs=1e-3)


def test_the_first_piece_is_short_and_all_frames_are_in_one() -> None:
    assert edges(RATE, rate=RATE) == (0, RATE)
    assert edges(2 * RATE, rate=RATE) == (0, 2 * RATE)
    assert edges(19 * RATE, rate=RATE) == (0, 2 * RATE, 10 * RATE, 18 * RATE, 19 * RATE)
