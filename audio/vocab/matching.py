"""Sounds of one part matched in loudness, so that none wins by being louder; values only."""

from __future__ import annotations

from math import sqrt

import msgspec

CEILING_DBTP = -1.0
"""The true peak of what is listened to stays under this: EBU R 128, maximum true peak of programmes."""

FLIP = sqrt(2.0)
"""A flip is an equal-power crossfade of two sounds: at most so much larger than the larger of them."""

MOST_GAIN_DB = 60.0
"""Of one layer; more is a mistake."""

LONGEST_S = 3600
"""Of the stretch that is compared."""


class SoundLevel(msgspec.Struct, frozen=True, kw_only=True):
    """How loud one sound is, at the balance it was asked for."""

    loudness_lufs: float | None
    """Integrated over the stretch (ITU-R BS.1770-5), heard on ONE loudspeaker; on two it would read 3 dB
    more, for all sounds alike. None where it is silent, or the stretch is shorter than 0.4 s."""
    peak_dbtp: float
    """Bound of its true peak in the stretch: the microphones' own true peaks added up, 10 ms by 10 ms. What
    the mix reaches is never more, and less where the microphones' peaks do not meet."""
    match_db: float
    """0 or less: what brings it down to the quietest that has a loudness, at the level they are heard at. 0
    where it has none."""


class Matched(msgspec.Struct, frozen=True, kw_only=True):
    """How several sounds are made equally loud, and what all of them are turned down by in common."""

    sounds: tuple[SoundLevel, ...]
    """In the order they were asked for."""
    cut_matched_db: float
    """0 or less: what keeps all sounds, matched, with what plays under them, and any flip between two of
    them, under `CEILING_DBTP`."""
    cut_plain_db: float
    """The same with every sound as loud as it is."""
