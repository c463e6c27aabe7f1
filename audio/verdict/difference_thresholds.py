"""From where on a difference between two sounds is told, each with its reason.

A level that is the same, and a band, are those of `audio.verdict.thresholds`.
"""

from __future__ import annotations

from typing import Final

MOST_LINES: Final = 5
"""More than a handful of things nobody changes before listening again."""

SURE_TIMES: Final = 3.0
"""A difference must be so many times its own standard error: of Gaussian ones three in a thousand are by
chance, and some ten figures are looked at in each pair."""

SURE_SHAPE_TIMES: Final = 4.5
"""The same of a shape, which was looked for among hundreds: of 140 pairs of takes alike one was told by
3.9 of its errors (measured, rooms of seeds from 40 000 on)."""

MOVES_DB: Final = 0.12
"""A loudness whose difference is no surer than this is a sound's that moves by itself, a tremolo's: fifteen
seconds of one leave 0.14 to 0.6 dB (measured, rooms of seeds below 1000 and from 40 000 on), an amp that
stands still 0.05."""

SURE_MOVING_TIMES: Final = 6.0
"""The same of sounds that move by themselves: their stretches are no independent draws, and of shapes that
were looked for among hundreds the errors were passed by up to five times (the same rooms)."""

MOVING_NOISE_TIMES: Final = 1.4
"""Noise of such sounds must differ by so much more: a rest is as loud as it happens to swing there. Of 150
pairs through slow tremolos up to 8 dB deep the most was 7 dB (measured, rooms from seeds 31 700 and
43 000 on)."""

MOVING_ECHO_DB: Final = -17.0
"""An echo that only one of two such sounds has is told from here on: swings that come again comb, too, and
made two of 80 pairs look as if one had an echo 19 dB under (measured, rooms of seeds from 31 600 on)."""

SURE_MOVING_SHAPE_TIMES: Final = 8.0
"""And of a shape through such sounds: of 350 pairs alike one was told by 6.2 of its errors (measured, rooms
of seeds from 31 600 and 40 000 on)."""

SHORT_TIMES: Final = 2.0
"""Every threshold of a stretch too short to tell how far it is to be trusted is higher by this: within ten
seconds a tremolo alone moves levels by half a dB and more (measured)."""

AROUND_DB: Final = 1.5
"""A bump or dip of a band or two is heard later than a shelf: bells of less than 1.5 dB are passed over in
music (common practice, no source)."""

TILT_DB: Final = 0.3
"""A tilt, in an octave: over the seven octaves of a guitar's amp it makes two decibels."""

CREST_DB: Final = 1.0
"""A change of the peak over the RMS: as much as the least change of a level that is heard by everybody
(common practice, no source)."""

CREST_BY_TONE: Final = 0.4
"""What a change of tone makes of it by itself, a share of its decibels: bass turned up by 6.6 dB took
2.4 dB of crest in a room of a seed below 1000, treble less."""

NOISE_DB: Final = 6.0
"""Noise at equal loudness, twice the amplitude: an idle amp wanders by 1 to 3 dB as it warms up (common
practice, no source)."""

ECHO_STEP_DB: Final = 3.0
"""What of an echo's strength weighs as much as another difference at its threshold."""

HUM_STANDS_DB: Final = 6.0
"""Hum that only one of the two has is told where it makes the most of its noise: it lies at most so far
under all of it."""

ECHO_MS: Final = 3.0
"""Two echoes further apart than this are two settings: digital ones are set to the millisecond, and one
that wanders like a tape's does so by less."""

ECHO_DB: Final = 4.5
"""The same of their level; by the playing alone it is told to a decibel or two, and a drive turned up by
9 dB blurs it by 3 to 4 (measured, rooms of seeds below 1000 and from 40 000 on)."""

LONGER_S: Final = 0.15
"""A tail longer by this is one: speaker and room ring for some hundredths of a second, and one stop of two
takes alike, or through a tremolo, is told to 0.03 s (measured, rooms of seeds from 40 000 on)."""

LONGER_TIMES: Final = 1.3
"""And longer by this share, so that of a long reverb not each tenth is told."""

MOVING_LONGER_TIMES: Final = 2.0
"""The same of what moves by itself: a swing of 8 dB moves the end of a fall of 30 dB by a quarter of it,
and the two sounds may swing against each other."""
