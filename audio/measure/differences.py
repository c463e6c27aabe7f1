"""What is different between two sounds of one part: their figures, and how far each difference is trusted.

Tone is compared where the DI plays, noise taken off, at equal loudness.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from msgspec.structs import replace

from audio.measure.heard_sound import RunningDi, RunningSound, rests_of
from audio.measure.jackknife import without_each
from audio.measure.played_echo import echo_between, repeats_more
from audio.measure.rings import falls_s, stops_of
from audio.measure.tone_apart import TINY, Along, Played, apart, levels, with_tone
from audio.vocab.differences import Apart, Differences, NoFall, Rings, SoundFigures

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audio.measure.rests import Rest
    from audio.vocab.results import Echo

    Floats = NDArray[np.float64]

_MEDIAN_ERROR = 1.25
"""Standard error of a median over that of a mean, of Gaussian figures."""


def differences(
    di: RunningDi, a: RunningSound, b: RunningSound, *, rate: int, from_frame: int, frames: int
) -> Differences:
    """Compare two sounds that came in beside their DI.

    Parameters
    ----------
    di
        Of the same frames.
    a
        What would have to change.
    b
        What it is held against.
    rate
        Frames a second.
    from_frame
        Where the stretch begins on the DI's timeline; told again in the answer.
    frames
        Its length.

    Returns
    -------
    Differences
        B less A.
    """
    rest_a, rest_b = rests_of(di, a, b)
    along = Along.of(di, (a, rest_a), (b, rest_b))
    mine, other = _figures(a, di, along.a, rest_a), _figures(b, di, along.b, rest_b)
    mine, other = _with_echoes(di, a, b, mine, other)
    mine, other, longer, unsure = _with_rings(di, a, b, mine, other)
    told = Differences(
        sample_rate=rate,
        from_frame=from_frame,
        frames=frames,
        a=replace(mine, thirds=levels(along.a, rate)),
        b=replace(other, thirds=levels(along.b, rate)),
        loudness=None,
        crest=_crest(di, a, b),
        rings_longer_s=longer,
        rings_plus_minus_s=unsure,
    )
    if mine.loudness_lufs is None or other.loudness_lufs is None:
        return told
    louder = other.loudness_lufs - mine.loudness_lufs
    return with_tone(replace(told, loudness=apart(louder, along.louder())), along, louder, rate)


# ------------------------------------------------------------------ one sound


def _figures(sound: RunningSound, di: RunningDi, part: Played, rest: Rest | None) -> SoundFigures:
    peak, true_peak = sound.peaks_dbfs()
    loud = di.loud()
    crests = sound.crests_db()[loud] if np.any(loud) else np.zeros(0)
    heard = part.weighted.size > 0 and bool(np.max(part.weighted) > TINY)
    return SoundFigures(
        thirds=(),
        loudness_lufs=sound.loudness.lufs(speakers=1),
        peak_dbfs=peak,
        true_peak_dbtp=true_peak,
        rms_dbfs=sound.rms_dbfs(),
        crest_db=float(np.mean(crests)) if crests.size and heard else None,
        noise_dbfs=rest.noise_dbfs if rest else None,
        hum_hz=rest.hum.hz if rest and rest.hum else None,
        hum_dbfs=rest.hum.dbfs if rest and rest.hum else None,
        rings=Rings(falls_s=None),
    )


def _with_echoes(
    di: RunningDi, a: RunningSound, b: RunningSound, mine: SoundFigures, other: SoundFigures
) -> tuple[SoundFigures, SoundFigures]:
    """Return figures with the repeats of each sound: against the DI, or against the other one."""
    first, second = _own_echo(a, di), _own_echo(b, di)
    found, is_second = echo_between(b.comb, a.comb)
    if found is not None and is_second and second is None:
        second = found
    elif found is not None and not is_second and first is None:
        first = found
    # Of a faint echo that both have, one may stand out of its DI and the other just not.
    if first is not None and second is None and not repeats_more(a.comb, b.comb, first):
        second = first
    elif second is not None and first is None and not repeats_more(b.comb, a.comb, second):
        first = second
    return replace(mine, echo=first), replace(other, echo=second)


def _own_echo(sound: RunningSound, di: RunningDi) -> Echo | None:
    found, is_its_own = echo_between(sound.comb, di.comb)
    return found if is_its_own else None


def _with_rings(
    di: RunningDi, a: RunningSound, b: RunningSound, mine: SoundFigures, other: SoundFigures
) -> tuple[SoundFigures, SoundFigures, float | None, float | None]:
    """Return figures with how long each rings, how much longer B does, and how sure that is."""
    stops = stops_of(di.squares())
    first, first_hidden = falls_s(a.cells.squares(), stops, noise=_power(mine.noise_dbfs))
    second, second_hidden = falls_s(b.cells.squares(), stops, noise=_power(other.noise_dbfs))
    both = np.isfinite(first) & np.isfinite(second)
    longer, unsure = None, None
    if np.any(both):
        later = (second - first)[both]
        longer = float(np.median(later))
        first, second = first[both], second[both]
        if later.size > 2:
            unsure = _MEDIAN_ERROR * float(np.std(later, ddof=1)) / float(np.sqrt(later.size))
    return (
        replace(mine, rings=_rings(first, is_hidden=first_hidden)),
        replace(other, rings=_rings(second, is_hidden=second_hidden)),
        longer,
        unsure,
    )


def _rings(falls: Floats, *, is_hidden: bool) -> Rings:
    told = falls[np.isfinite(falls)]
    if told.size:
        return Rings(falls_s=float(np.median(told)), stops=int(told.size))
    reason: NoFall = "notes come again before it has died away"
    if not falls.size:
        reason = "the DI never stops and rests"
    elif is_hidden:
        reason = "the noise lies over it"
    return Rings(falls_s=None, reason=reason)


# ------------------------------------------------------------------ two sounds


def _crest(di: RunningDi, a: RunningSound, b: RunningSound) -> Apart | None:
    loud = di.loud()
    audible = min(np.max(one.cells.peaks(), initial=0.0) for one in (a, b)) > 0.0
    if not np.any(loud) or not audible:
        return None
    more = (b.crests_db() - a.crests_db())[loud]
    return apart(float(np.mean(more)), without_each(more))


def _power(dbfs: float | None) -> float:
    return 0.0 if dbfs is None else float(10.0 ** (dbfs / 10.0))
