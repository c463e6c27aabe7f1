"""What is played in the demo: two invented songs, note by note."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from demo.strings import Touch

RING_S = 1.0
"""How long the last note may ring after the last bar."""


@dataclass(frozen=True, kw_only=True)
class Song:
    """Tempo, length, and where bar 1 lies."""

    bpm: float
    """Quarter notes a minute."""
    quarters: int
    """Quarter notes in a bar: 4 of 4/4, 3 of 6/8."""
    bars: int
    start_s: float
    """Where bar 1 begins in every file of the song; the files begin at the timeline's zero."""

    @property
    def seconds(self) -> float:
        """Length of every file of the song."""
        return self.start_s + self.bars * self.quarters * 60.0 / self.bpm + RING_S

    def at_s(self, beat: float) -> float:
        """Return where a quarter note, counted from bar 1, lies in a file."""
        return self.start_s + beat * 60.0 / self.bpm


@dataclass(frozen=True, kw_only=True)
class Note:
    """One note of a part."""

    beat: float
    """Quarter notes from bar 1; before it negative."""
    string: int
    """0 is the lowest."""
    fret: int
    beats: float
    """How long it is held."""
    touch: Touch
    late_s: float = 0.0
    """How far the hand was behind the beat; negative ahead."""


Part = tuple[Note, ...]

STRUM_S = 0.006
"""Time the pick takes from a string to the next."""


# ------------------------------------------------------------------ last ferry

LAST_FERRY = Song(bpm=96, quarters=4, bars=4, start_s=0.25)

ROOTS = ((0, 0), (0, 3), (1, 0), (1, 3))
"""(string, fret) of each bar's power chord: E, G, A, C."""

_ACCENTS = (0, 3, 6)
"""Eighths of a bar on which the chord is let ring; the palm mutes the others."""


def rhythm(*, feel_s: tuple[float, ...]) -> Part:
    """Return the rhythm part: eighths on a power chord, accents open, the rest muted.

    Parameters
    ----------
    feel_s
        Seconds each eighth lies behind the beat, of a bar or of all four.

    Returns
    -------
    Part
        Four bars, the last accent held.
    """
    return tuple(
        note
        for at in range(LAST_FERRY.bars * 8)
        for note in _power_chord(
            at / 2,
            *ROOTS[at // 8],
            accent=at % 8 in _ACCENTS,
            late_s=feel_s[at % len(feel_s)],
        )
    )


def _power_chord(
    beat: float, string: int, fret: int, *, accent: bool, late_s: float
) -> Iterator[Note]:
    touch = Touch(loud=1.0 if accent else 0.62, muted=not accent, pick=0.11)
    for k, up in enumerate((0, 2, 2) if accent else (0, 2)):
        yield Note(
            beat=beat,
            string=string + k,
            fret=fret + up,
            beats=1.4 if accent else 0.45,
            touch=touch,
            late_s=late_s + k * STRUM_S,
        )


_HOOK = (
    # beat in its two bars, string, fret, beats
    (0.0, 4, 8, 1.0),
    (0.75, 5, 7, 0.7),
    (1.5, 4, 8, 0.7),
    (2.0, 3, 9, 1.5),
    (3.5, 3, 7, 0.5),
    (4.0, 4, 5, 1.2),
    (5.0, 4, 8, 0.5),
    (5.5, 5, 7, 1.0),
    (6.5, 4, 10, 1.5),
)


def hook() -> Part:
    """Return the hook: a single line over two bars, twice, over ringing low strings."""
    notes = [
        Note(beat=start + b, string=s, fret=f, beats=n, touch=Touch(loud=0.85, pick=0.2))
        for start in (0.0, 8.0)
        for b, s, f, n in _HOOK
    ]
    low = [
        Note(beat=4.0 * bar, string=s, fret=f, beats=3.9, touch=Touch(loud=0.5, pick=0.25))
        for bar, (s, f) in enumerate(ROOTS)
    ]
    return tuple(notes + low)


# ------------------------------------------------------------------ rope of lamps

ROPE_OF_LAMPS = Song(bpm=108, quarters=3, bars=4, start_s=0.6)

_BROKEN = (
    # (string, fret) of each eighth of a bar: A minor, F, C, G, bass first
    ((1, 0), (2, 2), (3, 2), (4, 1), (3, 2), (2, 2)),
    ((0, 1), (2, 3), (3, 2), (4, 1), (3, 2), (2, 3)),
    ((1, 3), (2, 2), (3, 0), (5, 0), (4, 1), (3, 0)),
    ((0, 3), (2, 0), (3, 0), (4, 0), (3, 0), (2, 0)),
)
_SWAY_S = (0.0, 0.004, 0.007, -0.003, 0.003, 0.006)
"""How the six eighths of a bar sit."""


def arpeggio() -> Part:
    """Return the arpeggio: broken chords in six eighths, left to ring, an eighth ahead of bar 1."""
    notes = [Note(beat=-0.5, string=3, fret=0, beats=0.5, touch=Touch(loud=0.5, pick=0.22))]
    for bar, strings in enumerate(_BROKEN):
        for eighth, (string, fret) in enumerate(strings):
            heavy = eighth in (0, 3)
            notes.append(
                Note(
                    beat=bar * 3.0 + eighth / 2,
                    string=string,
                    fret=fret,
                    beats=3.0 - eighth / 2,
                    touch=Touch(loud=0.9 if heavy else 0.62, pick=0.22),
                    late_s=_SWAY_S[eighth],
                )
            )
    return tuple(notes)


_ANSWER = (
    # beat in its bar, beats, and (string, fret) twice; one bar a line
    ((0.0, 1.4, (4, 5), (5, 5)), (1.5, 1.0, (4, 1), (5, 0))),
    ((0.0, 1.4, (4, 6), (5, 5)), (1.5, 1.0, (4, 1), (5, 1))),
    ((0.0, 1.4, (4, 5), (5, 3)), (1.5, 1.0, (4, 1), (5, 0))),
    ((0.0, 1.4, (4, 3), (5, 3)), (1.5, 1.5, (3, 4), (4, 3))),
)


def answer() -> Part:
    """Return the answer: two-note chords on the two beats of a bar, a rest before the next one."""
    return tuple(
        Note(
            beat=bar * 3.0 + beat,
            string=string,
            fret=fret,
            beats=beats,
            touch=Touch(loud=0.8, pick=0.16),
            late_s=k * STRUM_S,
        )
        for bar, chords in enumerate(_ANSWER)
        for beat, beats, *pair in chords
        for k, (string, fret) in enumerate(pair)
    )
