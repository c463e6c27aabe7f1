"""What would make A sound like B: only what is heard and trusted, the largest first, each thing once."""

from __future__ import annotations

import pytest
from differences_said import A, apart, echo, shape, told
from msgspec.structs import replace

from audio.verdict.differences import NOTHING, words
from audio.vocab.differences import Differences, Rings


def test_two_alike_are_not_told_apart() -> None:
    assert words(told()) == (NOTHING,)


@pytest.mark.parametrize(
    ("found", "said"),
    [
        (told(loudness=apart(-1.5)), "1.5 dB quieter"),
        (told(loudness=apart(0.6)), "0.6 dB louder"),
        (told(shapes=(shape("above", 2014.0, 2.0),)), "brighter by 2.0 dB above 2 kHz"),
        (told(shapes=(shape("above", 1260.0, -2.0),)), "darker by 2.0 dB above 1.3 kHz"),
        (told(shapes=(shape("below", 203.0, -3.0),)), "thinner by 3.0 dB below 200 Hz"),
        (told(shapes=(shape("around", 404.0, -3.0),)), "less of 400 Hz, by 3.0 dB"),
        (told(shapes=(shape("around", 8110.0, 2.5),)), "more of 8.1 kHz, by 2.5 dB"),
        (told(shapes=(shape("tilt", None, -0.5),)), "darker all over, by 0.5 dB an octave"),
        (told(crest=apart(-3.0)), "more squashed: crest 3.0 dB less"),
        (told(crest=apart(2.0)), "more open: crest 2.0 dB more"),
        (told(b=replace(A, echo=echo(410.2))), "an echo at 410 ms, 12 dB under"),
        (told(a=replace(A, echo=echo(410.2))), "without the echo at 410 ms, 12 dB under"),
        (
            told(a=replace(A, echo=echo(300.0)), b=replace(A, echo=echo(410.0))),
            "the echo at 410 ms in place of 300 ms",
        ),
        (
            told(a=replace(A, echo=echo(300.0)), b=replace(A, echo=echo(300.4, -6.0))),
            "the echo 6 dB louder",
        ),
        (told(b=replace(A, noise_dbfs=-73.0)), "noisier between the notes, by 7 dB"),
        (told(b=replace(A, noise_dbfs=-90.0)), "less noise between the notes, by 10 dB"),
        (
            told(a=replace(A, noise_dbfs=-200.0), b=replace(A, noise_dbfs=-62.0)),
            "noise between the notes, −62 dBFS, in place of none",
        ),
        (
            told(b=replace(A, noise_dbfs=-60.0, hum_dbfs=-61.0, hum_hz=50)),
            "hum of 50 Hz, −61 dBFS",
        ),
        (
            told(
                a=replace(A, rings=Rings(falls_s=0.8)),
                b=replace(A, rings=Rings(falls_s=0.3)),
                rings_longer_s=-0.5,
            ),
            "shorter tail: 0.3 s in place of 0.8 s",
        ),
    ],
)
def test_each_difference_has_its_words(found: Differences, said: str) -> None:
    assert words(found) == (said,)


@pytest.mark.parametrize(
    "found",
    [
        told(loudness=apart(0.4)),
        told(loudness=apart(1.2, 0.5)),
        told(loudness=apart(0.9, None)),
        told(shapes=(shape("above", 2000.0, 0.9),)),
        told(shapes=(shape("above", 2000.0, 2.0, 0.5),)),
        told(shapes=(shape("around", 400.0, 2.5, None),)),
        told(crest=apart(-2.0, 0.7)),
        told(b=replace(A, noise_dbfs=-76.0)),
        told(b=replace(A, noise_dbfs=None)),
        told(a=replace(A, noise_dbfs=-140.0), b=replace(A, noise_dbfs=-110.0)),
        told(b=replace(A, rings=Rings(falls_s=0.15)), rings_longer_s=0.11),
        told(
            a=replace(A, rings=Rings(falls_s=0.7)),
            b=replace(A, rings=Rings(falls_s=0.87)),
            rings_longer_s=0.17,
        ),
        told(
            a=replace(A, rings=Rings(falls_s=0.4)),
            b=replace(A, rings=Rings(falls_s=0.7)),
            rings_longer_s=0.3,
            loudness=apart(0.0, 0.3),
        ),
        told(a=replace(A, echo=echo(300.0)), b=replace(A, echo=echo(300.0, -8.0))),
    ],
)
def test_what_is_not_heard_or_not_trusted_is_not_told(found: Differences) -> None:
    assert words(found) == (NOTHING,)


def test_of_sounds_that_move_by_themselves_more_is_asked() -> None:
    shapes = (shape("above", 2000.0, 2.0, 0.27),)
    assert words(told(loudness=apart(0.0, 0.05), shapes=shapes)) != (NOTHING,)
    assert words(told(loudness=apart(0.0, 0.3), shapes=shapes)) == (NOTHING,)


def test_a_faint_echo_of_sounds_that_move_by_themselves_is_not_told() -> None:
    moving = apart(0.0, 0.3)
    faint, clear = (replace(A, echo=echo(900.0, db)) for db in (-18.0, -12.0))
    assert words(told(b=faint)) == ("an echo at 900 ms, 18 dB under",)
    assert words(told(b=faint, loudness=moving)) == (NOTHING,)
    assert words(told(a=clear, loudness=moving)) == ("without the echo at 900 ms, 12 dB under",)


def test_noise_is_compared_at_equal_loudness() -> None:
    """B is the same sound 8 dB up: its noise came up with it."""
    louder = replace(A, noise_dbfs=-72.0)
    assert words(told(b=louder, loudness=apart(8.0))) == ("8.0 dB louder",)


def test_bass_turned_up_is_not_told_as_squashed_too() -> None:
    found = told(shapes=(shape("below", 200.0, 6.6),), crest=apart(-2.4))
    assert words(found) == ("fuller by 6.6 dB below 200 Hz",)


def test_an_echo_is_not_told_as_a_tail_too() -> None:
    rings = replace(A, rings=Rings(falls_s=0.9), echo=echo(400.0))
    assert words(told(b=rings, rings_longer_s=0.86)) == ("an echo at 400 ms, 12 dB under",)


def test_the_largest_comes_first_and_five_are_enough() -> None:
    found = told(
        loudness=apart(1.0),
        shapes=(shape("above", 2000.0, 6.0), shape("around", 400.0, -1.6)),
        crest=apart(-6.0),
        b=replace(A, noise_dbfs=-50.0, echo=echo(300.0)),
    )
    said = words(found)
    assert len(said) == 5
    assert (said[0], said[1]) == (
        "brighter by 6.0 dB above 2 kHz",
        "an echo at 300 ms, 12 dB under",
    )


def test_a_silent_sound_is_said_to_be_silent() -> None:
    assert words(told(b=replace(A, loudness_lufs=None), loudness=None)) == (
        "B: nothing loud enough to be compared",
    )
