"""Tempo files: what an engineer exports of a sequencer, or of an editor's labels."""

from __future__ import annotations

from pathlib import Path

import report  # noqa: F401 - makes the tests' own rooms importable
from bad_kind import Kind, Wrong
from unit.tempo_cases import END, event, metre_event, midi, tempo_event

from audio.files.tempo import read_tempo
from audio.grid.bars import bar_grid
from audio.vocab.session_file import Song

_WORDS = (
    *(
        b"MThd",
        b"MTrk",
        b"RIFF",
        b"\xff\x51\x03",
        b"\xff\x58\x04",
        b"\xff\x2f\x00",
        b"\xf0",
        b"\xf7",
    ),
    *(b"\xff\xff\xff\x7f", b"\x80" * 64, b"\x00\x00\x00\x00", b"\xe7\x28", b"\xff\x4b\x02"),
)
_LABEL_WORDS = (
    *(
        b"\t",
        b"\r\n",
        b"bar ",
        b"12|3",
        b"12.3",
        b"0",
        b"99999999999",
        b"1,500",
        b"1e9",
        b"-1",
        b"nan",
    ),
    *(
        b"\xef\xbb\xbf",
        b"\xff",
        b"\0",
        b"\\\t440\t880\n",
        "\u0661".encode(),
        "\u2028".encode(),
        b"\x1b[2J",
    ),
)


def kinds() -> tuple[Kind, ...]:
    """Return this file's kinds."""
    return (
        Kind("MIDI file of a tempo", "tempo.mid", _look, _midis, _midi_extremes, _WORDS, 200),
        Kind("labels of a tempo", "tempo.txt", _look, _labels, _label_extremes, _LABEL_WORDS),
    )


def _look(path: Path) -> None:
    """Read a tempo file, lay it on a DI, and look bars up as the screen does."""
    tempo = read_tempo(path, metre="3/4")
    song = Song(name="a", tempo_file="tempo.mid", song_start_s=1.5)
    grid = bar_grid(song, tempo=tempo, time_reference=0, rate=44_100)
    if grid is None:
        raise Wrong("a map without a grid")
    for frame in (-(10**7), 0, 44_100, 10**9):
        bar = grid.bar_at(frame)
        if not grid.frame(bar) <= frame < grid.frame(bar + 1) or grid.beats_in(bar) < 1:
            raise Wrong(f"frame {frame} does not lie in its bar {bar}")


def _midis() -> list[bytes]:
    both = metre_event(0, 4, 2) + tempo_event(0, 500_000) + tempo_event(960, 600_000) + END
    notes = (
        event(0, 0xC0, 5)
        + event(0, 0x90, 60, 64)
        + event(480, 60, 0)
        + metre_event(720, 7, 3)
        + END
    )
    names = (
        event(0, 0xFF, 3, 4, *b"band") + event(7, 0xFF, 0x4B, 1, 0) + tempo_event(9, 431_001) + END
    )
    return [midi(both, kind=0), midi(both, notes), midi(names, notes, both, division=96)]


def _midi_extremes() -> list[bytes]:
    endless = b"\x80" * 390_000
    return [
        *(b"", b"MThd", midi(), midi(b""), midi(endless), midi(END, division=-25 * 256 + 40)),
        *(
            midi(END, division=0),
            midi(END, kind=2),
            midi(END, count=65_535),
            midi(END, division=-1),
        ),
        *(
            midi(tempo_event(0, 0) + END),
            midi(metre_event(0, 0, 255) + END),
            midi(b"\xff" * 390_000),
        ),
        *(midi(tempo_event(2**28 - 1, 2**24 - 1) * 9 + END, division=1), midi(bytes(2_000_000))),
        midi(event(0, 0xFF, 1, 0x8F, 0xFF, 0xFF, 0xFF, 0x7F) + END),
        midi(b"".join(tempo_event(0, 400_000 + k) for k in range(50_000)) + END),
        midi(event(0, 0x90, 60, 64) * 99_000 + END),
    ]


def _labels() -> list[bytes]:
    return [
        b"0.500000\t0.500000\t1\n2.500000\t2.500000\t2\n5.250000\t5.250000\tbar 3\n",
        b"1,5\t1,5\t1.2\r\n3,25\t3,75\t4|1\r\n9,0\t9,0\tchorus\r\n",
        b"10.0\t10.0\t5\n\\\t440.0\t880.0\n12.0\t12.0\t6.3\n",
    ]


def _label_extremes() -> list[bytes]:
    many = b"".join(b"%d.5\t%d.5\t%d\n" % (k, k, k) for k in range(1, 9999))
    return [
        *(b"", b"\n", b"\t\t\n", b"\xff\xfe0\x00", b"\0" * 99, b"1\t1\t1", b"x" * 1_900_000, many),
        b"0\t0\t1\n0." + b"0" * 11 + b"1\t1\t2\n",
        b"0\t0\t1\n86400\t86400\t2\n",
        b"0\t0\t1\n" + b"9" * 100_000 + b"\t1\t2\n",
    ]
