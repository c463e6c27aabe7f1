"""What would make one sound like another, in a few lines: only what is heard, and what can be trusted.

Each line is worth its size over its own threshold, so that the largest comes first, whatever its unit.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from audio.verdict.difference_thresholds import (
    AROUND_DB,
    CREST_BY_TONE,
    CREST_DB,
    ECHO_DB,
    ECHO_MS,
    ECHO_STEP_DB,
    HUM_STANDS_DB,
    LONGER_S,
    LONGER_TIMES,
    MOST_LINES,
    MOVES_DB,
    MOVING_ECHO_DB,
    MOVING_LONGER_TIMES,
    MOVING_NOISE_TIMES,
    NOISE_DB,
    SHORT_TIMES,
    SURE_MOVING_SHAPE_TIMES,
    SURE_MOVING_TIMES,
    SURE_SHAPE_TIMES,
    SURE_TIMES,
    TILT_DB,
)
from audio.verdict.thresholds import NOISE_TOLD_DBFS, SAME_LEVEL_DB, SAME_NOISE_DB, SAME_THIRD_DB
from audio.vocab.differences import Apart, Differences, Shape, ShapeKind, SoundFigures
from audio.vocab.results import Echo

NOTHING = "no difference that can be told"

_LEAST_DB: dict[ShapeKind, float] = {
    "tilt": TILT_DB,
    "above": SAME_THIRD_DB,
    "below": SAME_THIRD_DB,
    "around": AROUND_DB,
}


@dataclass(frozen=True, slots=True)
class _Line:
    weight: float
    """Its size over its threshold."""
    text: str


def words(found: Differences) -> tuple[str, ...]:
    """Return what would make A sound like B, the largest first.

    Parameters
    ----------
    found
        As it was measured.

    Returns
    -------
    tuple of str
        At most `MOST_LINES`; one that says so where nothing is told.
    """
    silent = [name for name, one in (("A", found.a), ("B", found.b)) if one.loudness_lufs is None]
    if silent:
        return (f"{' and '.join(silent)}: nothing loud enough to be compared",)
    sure = SURE_MOVING_SHAPE_TIMES if _moves(found) else SURE_SHAPE_TIMES
    shapes = [one for one in found.shapes if _size(one.apart, _LEAST_DB[one.kind], sure)]
    lines = [*_level(found), *(_tone(one) for one in shapes), *_crest(found, shapes)]
    lines += [*_noise(found), *_echo(found), *_tail(found)]
    lines.sort(key=lambda line: -line.weight)
    return tuple(line.text for line in lines[:MOST_LINES]) or (NOTHING,)


def _moves(found: Differences) -> bool:
    """Return whether one of the two moves by itself, as through a tremolo."""
    unsure = found.loudness.plus_minus_db if found.loudness else None
    return unsure is not None and unsure >= MOVES_DB


def _sure(found: Differences) -> float:
    """Return how many of its own errors a difference must be."""
    return SURE_MOVING_TIMES if _moves(found) else SURE_TIMES


def _size(apart: Apart | None, least_db: float, sure: float) -> float:
    """Return a difference over its threshold; 0 where it is not told."""
    if apart is None:
        return 0.0
    unsure = apart.plus_minus_db
    least = least_db * SHORT_TIMES if unsure is None else max(least_db, sure * unsure)
    return abs(apart.db) / least_db if abs(apart.db) >= least else 0.0


# ------------------------------------------------------------------ level and tone


def _level(found: Differences) -> Iterator[_Line]:
    size = _size(found.loudness, SAME_LEVEL_DB, _sure(found))
    if size and found.loudness:
        what = "louder" if found.loudness.db > 0.0 else "quieter"
        yield _Line(size, f"{abs(found.loudness.db):.1f} dB {what}")


def _tone(shape: Shape) -> _Line:
    db = shape.apart.db
    size, amount, more = abs(db) / _LEAST_DB[shape.kind], f"{abs(db):.1f} dB", db > 0.0
    match shape.kind:
        case "tilt":
            text = f"{'brighter' if more else 'darker'} all over, by {amount} an octave"
        case "above":
            text = f"{'brighter' if more else 'darker'} by {amount} above {_hz(shape)}"
        case "below":
            text = f"{'fuller' if more else 'thinner'} by {amount} below {_hz(shape)}"
        case "around":
            text = f"{'more' if more else 'less'} of {_hz(shape)}, by {amount}"
    return _Line(size, text)


def _hz(shape: Shape) -> str:
    """Return a frequency in two digits, which is all a fit is good for."""
    two = float(f"{shape.hz:.2g}")
    return f"{two:g} Hz" if two < 1000.0 else f"{two / 1000.0:g} kHz"


def _crest(found: Differences, shapes: list[Shape]) -> Iterator[_Line]:
    by_tone = CREST_BY_TONE * max((abs(one.apart.db) for one in shapes), default=0.0)
    least = CREST_DB + by_tone
    size = _size(found.crest, least, _sure(found))
    if size and found.crest:
        db = found.crest.db
        what, how = ("more squashed", "less") if db < 0.0 else ("more open", "more")
        yield _Line(size, f"{what}: crest {abs(db):.1f} dB {how}")


# ------------------------------------------------------------------ between the notes


def _noise(found: Differences) -> Iterator[_Line]:
    """Return noise and hum at equal loudness: hum alone where it makes the noise.

    Half a second tells hum to some decibels only: it is told where the noise as a whole moved, too.
    """
    a, b = (_floored(one.noise_dbfs) for one in (found.a, found.b))
    if a is None or b is None:
        return
    up = b - a - (found.loudness.db if found.loudness else 0.0)
    times = MOVING_NOISE_TIMES if _moves(found) else 1.0
    hum = _hum(found, times * NOISE_DB) if abs(up) >= times * SAME_NOISE_DB else None
    if hum is not None:
        yield hum
    elif abs(up) >= times * NOISE_DB and max(a, b) > NOISE_TOLD_DBFS:
        yield _Line(abs(up) / NOISE_DB, _noisier(a, b, up))


def _noisier(a: float, b: float, up: float) -> str:
    if a <= NOISE_TOLD_DBFS:
        return f"noise between the notes, {_dbfs(b)}, in place of none"
    if b <= NOISE_TOLD_DBFS:
        return f"without the noise between the notes, {_dbfs(a)}"
    what = "noisier" if up > 0.0 else "less noise"
    return f"{what} between the notes, by {abs(up):.0f} dB"


def _hum(found: Differences, least_db: float) -> _Line | None:
    a, b = _hum_dbfs(found.a), _hum_dbfs(found.b)
    if a is None and b is None:
        return None
    hz = found.b.hum_hz or found.a.hum_hz
    if a is None or b is None:
        one, its = (found.b, b) if a is None else (found.a, a)
        other = _floored((found.a if a is None else found.b).noise_dbfs)
        over = (its or 0.0) - (other if other is not None else 0.0)
        if over < 0.0 or not _makes_the_noise(one, its or 0.0):
            return None
        text = f"hum of {hz} Hz" if a is None else f"without the hum of {hz} Hz"
        return _Line(max(over / NOISE_DB, 1.0), f"{text}, {_dbfs(its or 0.0)}")
    up = b - a - (found.loudness.db if found.loudness else 0.0)
    if abs(up) < least_db or not _makes_the_noise(found.b if up > 0.0 else found.a, max(a, b)):
        return None
    return _Line(
        abs(up) / NOISE_DB, f"{'more' if up > 0.0 else 'less'} hum of {hz} Hz, by {abs(up):.0f} dB"
    )


def _makes_the_noise(one: SoundFigures, hum_dbfs: float) -> bool:
    return one.noise_dbfs is not None and hum_dbfs >= one.noise_dbfs - HUM_STANDS_DB


def _hum_dbfs(one: SoundFigures) -> float | None:
    """Return hum that is worth a word."""
    heard = one.hum_dbfs is not None and one.hum_dbfs > NOISE_TOLD_DBFS
    return one.hum_dbfs if heard else None


def _floored(dbfs: float | None) -> float | None:
    """Return a level of noise; what nobody hears counts as no more than that."""
    return None if dbfs is None else max(dbfs, NOISE_TOLD_DBFS)


def _dbfs(level: float) -> str:
    return f"{level:.0f} dBFS".replace("-", "\N{MINUS SIGN}")


# ------------------------------------------------------------------ in time


def _echo(found: Differences) -> Iterator[_Line]:
    mine, other = found.a.echo, found.b.echo
    if mine is None or other is None:
        alone = mine or other
        if alone and not (_moves(found) and alone.level_db < MOVING_ECHO_DB):
            yield _echo_alone("an echo" if other else "without the echo", alone)
        return
    if abs(other.repeat_ms - mine.repeat_ms) > ECHO_MS:
        text = f"the echo at {other.repeat_ms:.0f} ms in place of {mine.repeat_ms:.0f} ms"
        yield _Line(_echo_weight(other), text)
        return
    up = other.level_db - mine.level_db
    if abs(up) >= ECHO_DB:
        yield _Line(
            abs(up) / ECHO_DB, f"the echo {abs(up):.0f} dB {'louder' if up > 0.0 else 'quieter'}"
        )


def _echo_alone(what: str, one: Echo) -> _Line:
    text = f"{what} at {one.repeat_ms:.0f} ms, {abs(one.level_db):.0f} dB under"
    return _Line(_echo_weight(one), text)


def _echo_weight(one: Echo) -> float:
    """Return how much an echo counts: one that nobody hears lies 30 dB under what it repeats."""
    return max((30.0 + one.level_db) / ECHO_STEP_DB, 1.0)


def _tail(found: Differences) -> Iterator[_Line]:
    """Return nothing where echoes differ: they are the tail."""
    a, b, longer = found.a.rings.falls_s, found.b.rings.falls_s, found.rings_longer_s
    if a is None or b is None or longer is None or any(_echo(found)):
        return
    unsure = found.rings_plus_minus_s
    least = LONGER_S if unsure is None else max(LONGER_S, _sure(found) * unsure)
    times = MOVING_LONGER_TIMES if _moves(found) else LONGER_TIMES
    if abs(longer) < least or max(a, b) < times * min(a, b):
        return
    what = "longer" if longer > 0.0 else "shorter"
    yield _Line(abs(longer) / LONGER_S, f"{what} tail: {b:.2g} s in place of {a:.2g} s")
