"""The same sound as then, or what most likely moved and which way.

One cause is named, the likeliest first; all other figures are shown as they are. A place is told by the
delay and by nothing else; a drive by what no filter can do; a tone by bands that part from the others; a
level by all bands alike.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from statistics import median

from audio.verdict.thresholds import (
    BENT_LEAST_DB,
    BENT_OVER_FLOOR_DB,
    DRIVE_ALONE_DB,
    DRIVE_SHOWN_DB,
    DRIVE_TOLD_DB,
    FLOOR_TIMES,
    FLOOR_UNKNOWN_TIMES,
    LEVEL_SHIFTED_DB,
    MOVES_BENT_DB,
    SAME_DISTANCE_CM,
    SAME_LEVEL_DB,
    SAME_NOISE_DB,
    SAME_SEND_DB,
    SAME_THIRD_DB,
)
from audio.verdict.words import listing
from audio.vocab.likeness import Likeness, Moved, SoundsCompared

_ONCE = " The sound was recorded only once then, so tolerances are half as wide again."
_KNOBS = ((180.0, "bass"), (600.0, "low mids"), (1800.0, "middle"), (float("inf"), "presence"))
"""Up to which frequency which knob is thought of first (common practice, no source)."""


def judge_likeness(compared: SoundsCompared) -> Moved:
    """Return what most likely moved since a sound was kept.

    Parameters
    ----------
    compared
        All returns, then and now.

    Returns
    -------
    Moved
        ``nothing`` where every figure is within its tolerance; ``unclear`` where a return tells nothing,
        or where something changed that is none of the causes there are, or would hide in what the chain
        does by itself.
    """
    steps: tuple[Callable[[SoundsCompared], Moved | None], ...] = (
        _untold,
        _turned,
        _distance,
        _send,
        _drive,
        _tone,
        _level,
        _noise,
        _hidden,
    )
    found = next((moved for step in steps if (moved := step(compared)) is not None), None)
    once = "" if compared.kept_twice else _ONCE
    return found or Moved(cause="nothing", is_same=True, text=f"The same sound as then.{once}")


def tolerance(same: float, floor: float | None) -> float:
    """Return within what a figure is the same, in its own unit.

    Parameters
    ----------
    same
        What counts as the same where two takes in a row are alike.
    floor
        What two takes in a row differ by; None where it is unknown.

    Returns
    -------
    float
        Never less than `same`.
    """
    return FLOOR_UNKNOWN_TIMES * same if floor is None else max(same, FLOOR_TIMES * floor)


def is_same(compared: SoundsCompared) -> bool:
    """Return whether levels, bands and places of all returns are within their tolerances."""
    return all(
        change is not None and abs(change) <= tolerance(same, floor)
        for one in compared.returns
        for change, floor, same in _figures(one)
    )


def _figures(one: Likeness) -> Iterator[tuple[float | None, float | None, float]]:
    yield one.level_db, one.level_floor_db, SAME_LEVEL_DB
    if one.distance_cm is not None:
        yield one.distance_cm, one.distance_floor_cm, SAME_DISTANCE_CM
    for band in one.bands:
        if band.difference_db is not None:
            yield band.difference_db, band.floor_db, SAME_THIRD_DB


# ------------------------------------------------------------------ what cannot be told


def _untold(compared: SoundsCompared) -> Moved | None:
    mute = [one for one in compared.returns if one.reason is not None]
    if not mute:
        return None
    text = f"{mute[0].name}: {mute[0].reason}."
    return Moved(cause="unclear", is_same=False, text=text, returns=_names(mute))


def _turned(compared: SoundsCompared) -> Moved | None:
    turned = [one for one in compared.returns if one.polarity == "inverted"]
    if not turned:
        return None
    return Moved(
        cause="unclear",
        is_same=False,
        text=f"{listing(_names(turned))} came back upside down.",
        advice="Turn the polarity switch, the cable or the speaker's wires back.",
        returns=_names(turned),
    )


def _hidden(compared: SoundsCompared) -> Moved | None:
    """Return that something else changed, or that a change of drive would hide in what the chain does."""
    if all(_is_bent(one) for one in compared.returns):
        return Moved(
            cause="unclear",
            is_same=is_same(compared),
            text="Something bends the sound otherwise than then, though all levels are the same.",
            advice="Compare the pedals' knobs with their notes.",
        )
    if all(_moves(one) and _shifted(one) for one in compared.returns):
        return Moved(
            cause="unclear",
            is_same=is_same(compared),
            text="Every return is a little off its level; the chain moves too much to say why.",
            advice="Switch off what moves, such as a tremolo, then and now, and compare again.",
        )
    if all(_moves(one) and _drive_limit(one) > DRIVE_SHOWN_DB for one in compared.returns):
        return Moved(
            cause="unclear",
            is_same=is_same(compared),
            text="The chain moves by itself so much that a change of drive would hide in it.",
            advice="Switch off what moves, such as a tremolo, then and now, and compare again.",
        )
    return None


# ------------------------------------------------------------------ what moved


def _distance(compared: SoundsCompared) -> Moved | None:
    found = [
        (one.distance_cm, one)
        for one in compared.returns
        if one.distance_cm is not None
        and abs(one.distance_cm) > tolerance(SAME_DISTANCE_CM, one.distance_floor_cm)
    ]
    if not found:
        return None
    cm, one = max(found, key=lambda pair: abs(pair[0]))
    there, back = ("further away", "nearer") if cm > 0.0 else ("nearer", "further away")
    either = [other.name for _, other in found if other is not one]
    text = f"{one.name} is {abs(cm):.1f} cm {there} than then."
    advice = f"Move {one.name} {abs(cm):.0f} cm {back}."
    if either and compared.distance_by == "other returns":
        text = f"{one.name} is {abs(cm):.1f} cm {there} than then, against {listing(either)}."
        advice = f"Move {one.name} {abs(cm):.0f} cm {back}, or {listing(either)} {there}."
    return Moved(
        cause="distance",
        is_same=False,
        text=text,
        advice=advice,
        returns=(one.name, *either),
        amount=cm,
        unit="cm",
    )


def _send(compared: SoundsCompared) -> Moved | None:
    db = compared.send_db
    if db is None or abs(db) <= tolerance(SAME_SEND_DB, compared.send_floor_db):
        return None
    return Moved(
        cause="drive",
        is_same=False,
        text=f"The send is {abs(db):.1f} dB {_hotter(db)} than then.",
        advice=f"Send or reamp box trim {_back(db)} {abs(db):.1f} dB.",
        returns=_names(compared.returns),
        amount=db,
        unit="dB",
    )


def _drive(compared: SoundsCompared) -> Moved | None:
    told = [
        one.drive_db
        for one in compared.returns
        if one.drive_db is not None and abs(one.drive_db) > _drive_limit(one)
    ]
    # One amp drives all microphones: what only some of them tell is no drive.
    alike = len({db > 0.0 for db in told}) == 1
    if not alike or 2 * len(told) <= len(compared.returns):
        return None
    db = median(told)
    return Moved(
        cause="drive",
        is_same=is_same(compared),
        text=f"The amp is driven about {_about(db)} dB {'harder' if db > 0.0 else 'softer'} than then.",
        advice=f"Drive {_back(db)} about {_about(db)} dB.",
        returns=_names(compared.returns),
        amount=db,
        unit="dB",
    )


def _tone(compared: SoundsCompared) -> Moved | None:
    found = [(parted, one) for one in compared.returns if (parted := _parted(one)) is not None]
    if not found:
        return None
    (hz, db), _ = max(found, key=lambda pair: abs(pair[0][1]))
    names = _names([one for _, one in found])
    knob = next(name for up_to, name in _KNOBS if hz <= up_to)
    where = listing(names) if len(names) < len(compared.returns) else "every return"
    return Moved(
        cause="tone",
        is_same=False,
        text=f"{where} has {abs(db):.1f} dB {'more' if db > 0.0 else 'less'} at {_hz(hz)} than then.",
        advice=f"{knob.capitalize()} {_back(db)} about {_about(db)} dB at {_hz(hz)}.",
        returns=names,
        amount=db,
        unit="dB",
        hz=hz,
    )


def _level(compared: SoundsCompared) -> Moved | None:
    off = [(one, one.level_db, one.level_floor_db) for one in compared.returns]
    found = _off(off, same=SAME_LEVEL_DB)
    if found is None:
        return None
    loudest, db, names = found
    every = len(names) == len(compared.returns) > 1
    who = "Every return" if every else listing(names)
    what = "Amp volume" if every else f"Preamp of {loudest.name}"
    return Moved(
        cause="level",
        is_same=False,
        text=f"{who} is {abs(db):.1f} dB {'louder' if db > 0.0 else 'quieter'} than then.",
        advice=f"{what} {_back(db)} {abs(db):.1f} dB.",
        returns=names,
        amount=db,
        unit="dB",
    )


def _noise(compared: SoundsCompared) -> Moved | None:
    off = [(one, one.noise_db, one.noise_floor_db) for one in compared.returns]
    found = _off(off, same=SAME_NOISE_DB)
    if found is None:
        return None
    _, db, names = found
    return Moved(
        cause="noise",
        is_same=is_same(compared),
        text=f"{listing(names)}: noise in the rests is {abs(db):.0f} dB {_hotter(db)} than then.",
        advice="Look for what hums or hisses." if db > 0.0 else "",
        returns=names,
        amount=db,
        unit="dB",
    )


def _off(
    changes: Sequence[tuple[Likeness, float | None, float | None]], *, same: float
) -> tuple[Likeness, float, tuple[str, ...]] | None:
    """Return whose change is the largest beyond its tolerance, that change, and all that are beyond theirs.

    `changes` holds a return, its change and its floor; None where all are the same.
    """
    off = [
        (one, change)
        for one, change, floor in changes
        if change is not None and abs(change) > tolerance(same, floor)
    ]
    if not off:
        return None
    one, change = max(off, key=lambda pair: abs(pair[1]))
    return one, change, _names([each for each, _ in off])


# ------------------------------------------------------------------ one return


def _moves(one: Likeness) -> bool:
    """Return whether its chain moves by itself; where nobody knows, what moves looks so, too."""
    floor = one.bent_db if one.bent_floor_db is None else one.bent_floor_db
    return floor is not None and floor > MOVES_BENT_DB


def _is_bent(one: Likeness) -> bool:
    """Return whether something changed that no filter explains."""
    if one.bent_db is None or one.bent_db < BENT_LEAST_DB or _moves(one):
        return False
    return one.bent_floor_db is None or one.bent_db > one.bent_floor_db + BENT_OVER_FLOOR_DB


def _shifted(one: Likeness) -> bool:
    """Return whether its level is off by more than chance, though perhaps within its tolerance."""
    floor = one.level_floor_db
    return (
        one.level_db is not None
        and floor is not None
        and abs(one.level_db) > max(LEVEL_SHIFTED_DB, FLOOR_TIMES * floor)
    )


def _drive_limit(one: Likeness) -> float:
    return tolerance(DRIVE_TOLD_DB if _is_bent(one) else DRIVE_ALONE_DB, one.drive_floor_db)


def _parted(one: Likeness) -> tuple[float, float] | None:
    """Return where, and how far, a band parts most from the others; None within its tolerance."""
    known = [
        (band.hz, band.difference_db, tolerance(SAME_THIRD_DB, band.floor_db))
        for band in one.bands
        if band.difference_db is not None
    ]
    if not known:
        return None
    middle = median(db for _, db, _ in known)
    away = [(hz, db - middle) for hz, db, within in known if abs(db - middle) > within]
    return max(away, key=lambda pair: abs(pair[1]), default=None)


# ------------------------------------------------------------------ words


def _names(returns: Sequence[Likeness]) -> tuple[str, ...]:
    return tuple(one.name for one in returns)


def _back(db: float) -> str:
    return "down" if db > 0.0 else "up"


def _hotter(db: float) -> str:
    return "higher" if db > 0.0 else "lower"


def _about(db: float) -> str:
    """Return a size to the nearest half decibel, which is as exactly as it is known."""
    return f"{max(0.5, round(2.0 * abs(db)) / 2.0):g}"


def _hz(hz: float) -> str:
    return f"{hz / 1000.0:g} kHz" if hz >= 1000.0 else f"{hz:.0f} Hz"
