"""The tempo map of a Standard MIDI File: files from bytes, files by mido, and files that are none.

The bytes follow the Standard MIDI File 1.0 (RP-001, from memory): the header chunk has type, number of
tracks and ticks a quarter note; events are a delta time in ticks, then FF, kind, length, data; 51 is Set
Tempo, microseconds a quarter note in three bytes; 58 is Time Signature, beats and the power of two of the
note. Until the first of them it is 120 quarter notes a minute and 4/4.
"""

from __future__ import annotations

import io
import struct
from fractions import Fraction
from pathlib import Path

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tempo_cases import END, event, metre_event, midi, tempo_event, variable

from audio.files.midi_tempo import LARGEST_BYTES, LONGEST_NUMBER
from audio.files.tempo import tempo_of
from audio.vocab.errors import UseError
from audio.vocab.tempo import Metre, MetreChange, TempoChange, TempoMap, tempo_map

WHERE = Path("tide.mid")

EXAMPLE = bytes.fromhex(
    "4d546864 00000006 0000 0001 0060"  # MThd, 6 bytes: type 0, one track, 96 ticks a quarter note
    "4d54726b 0000003b"  # MTrk, 59 bytes
    "00 ff58 04 04 02 18 08"  # 4/4
    "00 ff51 03 07a120"  # 500 000 µs a quarter note
    "00 c0 05  00 c1 2e  00 c2 46"  # programs of three channels
    "00 92 30 60  00 3c 60"  # notes, the second with running status
    "60 91 43 40  60 90 4c 40"
    "8140 82 30 40  00 3c 40"  # 192 ticks later
    "00 81 43 40  00 80 4c 40"
    "00 ff2f 00"
)
"""The worked example of the standard's own text, type 0 (from memory)."""


def read(data: bytes, *, metre: str | None = None) -> TempoMap:
    return tempo_of(data, path=WHERE, metre=metre)


def tempos(found: TempoMap) -> list[tuple[Fraction, int]]:
    return [(one.at, int(one.quarter_s * 10**6)) for one in found.tempos]


def metres(found: TempoMap) -> list[tuple[Fraction, str]]:
    return [(one.at, f"{one.metre}") for one in found.metres]


# ------------------------------------------------------------------ from bytes


def test_the_standards_own_example_is_120_in_four_four() -> None:
    found = read(EXAMPLE)
    assert (tempos(found), metres(found)) == ([(0, 500_000)], [(0, "4/4")])
    assert found.start_s is None


def test_changes_lie_where_their_ticks_say_from_whichever_track() -> None:
    first = tempo_event(0, 500_000) + tempo_event(960, 400_001) + END
    second = metre_event(0, 3, 2) + event(100, 0x90, 60, 64) + tempo_event(1340, 600_000) + END
    third = metre_event(1440, 7, 3) + END
    found = read(midi(first, second, third))
    assert tempos(found) == [(0, 500_000), (2, 400_001), (3, 600_000)]
    assert metres(found) == [(0, "3/4"), (3, "7/8")]


def test_a_file_that_says_nothing_is_120_in_four_four_or_in_the_songs_metre() -> None:
    silent = midi(event(0, 0x90, 60, 64) + END, kind=0)
    assert tempos(read(silent)) == [(0, 500_000)]
    assert metres(read(silent)) == [(0, "4/4")]
    assert metres(read(silent, metre="6/8")) == [(0, "6/8")]


def test_what_comes_later_leaves_120_and_four_four_before_it_whatever_the_song_says() -> None:
    found = read(midi(tempo_event(480, 400_000) + metre_event(1440, 3, 2) + END), metre="6/8")
    assert tempos(found) == [(0, 500_000), (1, 400_000)]
    assert metres(found) == [(0, "4/4"), (4, "3/4")]


def test_at_one_place_the_last_one_holds() -> None:
    found = read(midi(tempo_event(0, 500_000) + tempo_event(0, 400_000) + END))
    assert tempos(found) == [(0, 400_000)]


@pytest.mark.parametrize("kind", [0x08, 0x0A, 0x4B, 0x60, 0x7E, 0x20, 0x59, 0x54, 0x7F, 0x01])
def test_time_before_any_other_event_counts_whatever_is_in_it(kind: int) -> None:
    """Also before kinds that mido does not know, whose delta time it forgets, or cannot read."""
    track = event(480, 0xFF, kind, 2, 0x7B, 0xFF) + tempo_event(480, 400_000) + END
    assert tempos(read(midi(track))) == [(0, 500_000), (2, 400_000)]


def test_running_status_sysex_and_long_deltas_are_passed_over_in_time() -> None:
    track = (
        event(100, 0x90, 60, 64) + event(100, 62, 64) + event(80, 0xF0, 3, 1, 2, 0xF7)
        + event(0, 0xF7, 2, 0x90, 60) + event(2**21, 0xB0, 7, 100) + tempo_event(0, 400_000) + END
    )  # fmt: skip
    assert tempos(read(midi(track)))[1] == (Fraction(280 + 2**21, 480), 400_000)


@given(st.integers(0, 2**28 - 1))
def test_every_delta_a_file_can_say_is_read(delta: int) -> None:
    track = tempo_event(delta, 400_000) + END
    found = read(midi(track, division=32_767))
    assert tempos(found)[-1] == (Fraction(delta, 32_767), 400_000)


# ------------------------------------------------------------------ by mido

ticks = st.integers(0, 100_000)
changes = st.lists(st.tuples(ticks, st.integers(60_000, 2**24 - 1)), max_size=30)
signatures = st.lists(
    st.tuples(ticks, st.integers(1, 99), st.sampled_from((1, 2, 4, 8, 16, 32))), max_size=8
)


@settings(max_examples=50)
@given(changes, signatures, st.sampled_from((24, 96, 480, 960, 15_360)), st.booleans())
def test_what_mido_writes_is_read_back_equal(
    fast: list[tuple[int, int]], bars: list[tuple[int, int, int]], division: int, apart: bool
) -> None:
    file = mido.MidiFile(type=1, ticks_per_beat=division)
    events = [(at, mido.MetaMessage("set_tempo", tempo=us)) for at, us in fast]
    signs = [
        (at, mido.MetaMessage("time_signature", numerator=beats, denominator=note))
        for at, beats, note in bars
    ]
    for told in (events, signs) if apart else (events + signs,):
        track, now = file.add_track(), 0
        for at, message in sorted(told, key=lambda one: one[0]):
            track.append(message.copy(time=at - now))
            now = at
    out = io.BytesIO()
    file.save(file=out)
    assert read(out.getvalue()) == tempo_map(
        [
            TempoChange(Fraction(at, division), Fraction(us, 10**6))
            for at, us in [(0, 500_000), *fast]
        ],
        [MetreChange(Fraction(0), Metre(4, 4))]
        + [MetreChange(Fraction(at, division), Metre(beats, note)) for at, beats, note in bars],
    )


# ------------------------------------------------------------------ what is refused


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "is no Standard MIDI File; export"),
        (b"RIFF....", "is no Standard MIDI File; export"),
        (EXAMPLE[:9], "is cut off; copy it again"),
        (EXAMPLE[:40], "is cut off; copy it again"),
        (midi(END, kind=2), "type 2, several songs one after the other; export .* type 0 or 1"),
        (midi(END, kind=3), "type 3, which nobody knows; export"),
        (midi(END, division=-25 * 256 + 40), "counts 25 frames a second .* musical time"),
        (midi(END, division=0), "counts nothing instead of ticks .* musical time"),
        (midi(END, count=0), "has 0 tracks, not 1 to 1000"),
        (midi(END, count=65_535), "has 65535 tracks"),
        (midi(END, count=2), "is cut off"),
        (midi(END).replace(b"MTrk", b"Ktrm"), "damaged, or no Standard MIDI File: .*; export"),
        (midi(event(0, 0xF4) + END), "undefined status byte 0xf4; export"),
        (midi(event(0, 0x40) + END), "running status without last_status; export"),
        (midi(tempo_event(0, 0) + END), r"track 1, 0 quarter .* lasts 0 µs, which is none"),
        (midi(END, tempo_event(720, 59_999) + END), r"track 2, 1\.5 quarter .* 59999 µs"),
        (midi(event(0, 0xFF, 0x51, 2, 7, 7) + END), "lasts 0 µs, which is none from 60000 to"),
        (midi(metre_event(0, 0, 2) + END), r"a metre of 0/2\^2, which is none from 1/1 to 99/64"),
        (midi(metre_event(0, 4, 255) + END), r"a metre of 4/2\^255, which is none"),
        (midi(event(0, 0xFF, 0x58, 0) + END), r"a metre of 0/2\^0, which is none"),
        (midi(variable(2**28) + b"\xff\x2f\x00"), "more than 268435455 ticks after the one before"),
        (midi(tempo_event(2**28 - 1, 400_000) + END, division=1), "hours from bar 1, beyond a day"),
        (midi(b"\x80" * (LONGEST_NUMBER + 9)), "a number in it has no end"),
        (midi(bytes(LARGEST_BYTES)), "larger than a tempo track can be .* without notes"),
        (midi(b"".join(tempo_event(1, 400_000 + k % 2) for k in range(20_001)) + END),
         "more than 20000 changes .* one a beat"),
    ],
    ids=lambda one: one[:40] if isinstance(one, str) else "bytes",
)  # fmt: skip
def test_what_is_no_tempo_is_refused_in_one_sentence_with_the_way_out(
    data: bytes, why: str
) -> None:
    with pytest.raises(UseError, match=rf"^tide\.mid.*{why}") as refused:
        read(data)
    assert "\n" not in f"{refused.value}"
    assert ";" in f"{refused.value}"


@given(st.binary(max_size=120), st.integers(0, 200))
def test_whatever_is_in_a_file_it_is_read_or_refused(noise: bytes, at: int) -> None:
    damaged = EXAMPLE[:at] + noise + EXAMPLE[at + len(noise) :]
    for data in (damaged, midi(noise), b"MThd" + noise, struct.pack(">4sL", b"MThd", 6) + noise):
        try:
            said = f"{WHERE}" if read(data).tempos[0].at == 0 else ""
        except UseError as error:
            said = f"{error}"
        assert said.startswith("tide.mid")
