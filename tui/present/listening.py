"""Sounds that are flipped between, in lines: which is heard, how each is matched, what can be turned."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from string import ascii_uppercase

from rich.text import Text

from audio.grid.bars import BarGrid
from audio.plan.listening import cut_db, turned_db
from audio.vocab.balance import Balance
from audio.vocab.listening import ListeningNow, Sound
from audio.vocab.opinion import Opinion
from audio.vocab.units import clock_time, shortest, signed
from tui.present.glyphs import cells_of, cut
from tui.present.looks import ACCENT, CARE, FAINT, HERE, PLAIN, STRONG, text, two_sided
from tui.present.note_words import rating

LETTERS = ascii_uppercase
"""By which sounds are called, in the order of the list."""

REST_CELLS = 46
"""Cells of a line besides the sound's name."""

WIDE = 110
"""Columns from which there is room for every sound's own loudness."""

MATCH, BARS, BLIND = "matched", "goes round", "blind"
"""Rows that are always there; those after them are named as what they turn."""


def letter_of(now: ListeningNow, key: str) -> str:
    """Return the letter of a sound, empty where it has none."""
    at = next((at for at, one in enumerate(now.sounds) if one.key == key), len(LETTERS))
    return LETTERS[at] if at < len(LETTERS) else ""


def by_letter(now: ListeningNow, letter: str) -> str | None:
    """Return the key of the sound that is called so; None where none is."""
    at = LETTERS.find(letter) if len(letter) == 1 else -1
    return now.sounds[at].key if 0 <= at < len(now.sounds) else None


# ---------------------------------------------------------------- the head


def head(now: ListeningNow, columns: int, *, stretch: str, sounds: bool) -> Text:
    """Return which part, which stretch of it, and how it is matched."""
    state = (" listening" if sounds else " to listen to", STRONG if sounds else FAINT)
    left = text(" ", (now.part, ACCENT), state, (f"   {stretch}", PLAIN))
    words, care = matching_words(now)
    return two_sided(left, text((f"{words} ", CARE if care else PLAIN)), columns)


def matching_words(now: ListeningNow) -> tuple[str, bool]:
    """Return how loudness is matched, and whether that is to be taken with care."""
    if now.problem:
        return "loudness not measured", True
    if not now.matched:
        return "NOT matched: each as loud as it is", True
    if not now.measured:
        count = f", {now.read} of {len(now.compared())} measured" if now.read else ""
        return f"about matched{count}", True
    quietest = [
        one.loudness_lufs + one.match_db
        for sound in now.compared()
        if (one := now.level(sound.key)) is not None and one.loudness_lufs is not None
    ]
    if not quietest:
        return "nothing here has a loudness", True
    return f"all matched at {signed(min(quietest) + cut_db(now), digits=1)} LUFS", False


def place(now: ListeningNow, frame: int | None, columns: int, *, bars: BarGrid | None) -> Text:
    """Return where the stretch that goes round is now: time, bar and beat, and a line.

    Parameters
    ----------
    now
        As it stands.
    frame
        Of the timeline; None while nothing plays.
    columns
        Cells there are.
    bars
        The song's, where it has a tempo.

    Returns
    -------
    Text
        Always as wide.
    """
    at = now.span.start if frame is None else frame
    time = clock_time(at / now.sample_rate)
    beat = "{}.{}".format(*bars.named(bars.beat_at(at))) if bars is not None else ""
    words = f" {time:>5}  {f'bar {beat}' if beat else '':<10}"
    cells = max(columns - cells_of(words) - 3, 4)
    share = (at - now.span.start) / max(now.span.end - now.span.start, 1)
    done = min(max(round(share * cells), 0), cells) if frame is not None else 0
    return text(words, (" ", FAINT), ("━" * done, ACCENT), ("─" * (cells - done), FAINT))


# ---------------------------------------------------------------- the sounds


def sound_line(
    now: ListeningNow, one: Sound, columns: int, *, said: Opinion | None, listed: bool
) -> Text:
    """Return one sound: its letter and name, by how much it is turned down, what was said of it.

    Parameters
    ----------
    now
        As it stands.
    one
        The sound.
    columns
        Cells there are.
    said
        Of a variant.
    listed
        Whether the cursor is in the list, not at what can be turned.

    Returns
    -------
    Text
        One line.
    """
    heard, out = one.key == now.heard, one.key in now.out
    look = (HERE if listed else STRONG) if heard else FAINT if out else PLAIN
    mark = "▸" if heard else "◂" if one.key == now.before and not out else " "
    number = f"{one.number:03d} " if one.number is not None else ""
    cells = min(max(columns - REST_CELLS, 20), 50)
    keeper = "▙ keeper" if said is not None and said.keeper is not None else ""
    own = _own(now, one, columns)
    rest = "left out" if out else " ".join(filter(None, (keeper, one.outside)))
    return text(
        f"  {mark} ",
        (f"{letter_of(now, one.key) or ' '}  ", STRONG if heard else FAINT),
        (cut(f"{number}{one.title}", cells), look),
        (f"  {_db(now, one.key)}", FAINT if out else PLAIN),
        (own, FAINT),
        (f"  {rating(said) if said is not None else ' ' * 6}  ", PLAIN),
        (rest, FAINT if out else STRONG),
    )


def _db(now: ListeningNow, key: str) -> str:
    about = " " if now.measured and now.level(key) is not None else "≈"
    return f"{about}{signed(turned_db(now, key), digits=1):>6} dB"


def _own(now: ListeningNow, one: Sound, columns: int) -> str:
    if columns < WIDE:
        return ""
    level = now.level(one.key)
    if level is None or level.loudness_lufs is None or not now.measured:
        return " " * len("  −23.4 LUFS")
    return f"  {signed(level.loudness_lufs, digits=1):>5} LUFS"


# ---------------------------------------------------------------- what can be turned


@dataclass(frozen=True, slots=True)
class Turn:
    """A row that can be turned: what it is, and where it stands."""

    kind: str
    """``match``, ``bars``, ``under``, ``microphone`` or ``blind``."""
    name: str
    value: str


def turns(now: ListeningNow, *, stretch: str, blind: str) -> list[Turn]:
    """Return what can be turned: matching, stretch, what plays under them, the microphones heard."""
    rows = [
        Turn("match", MATCH, "in loudness, to the quietest" if now.matched else "no"),
        Turn("bars", BARS, stretch),
    ]
    rows += [Turn("under", one.name, _level(one.db)) for one in now.under]
    rows += _microphones(now)
    return [*rows, Turn("blind", BLIND, blind)]


def _microphones(now: ListeningNow) -> list[Turn]:
    heard = now.sound(now.heard)
    if heard is None or heard.number is None:
        return []
    balance = now.balance(heard.key)
    return [Turn("microphone", one.name, _fader(balance, one.name)) for one in heard.layers]


def _level(db: float | None) -> str:
    return "off" if db is None else f"{shortest(db)} dB"


def _fader(balance: Balance, name: str) -> str:
    db = next((one.db for one in balance.faders if one.name == name), 0.0)
    alone = "   alone" if name in balance.solo else "   (not heard)" if balance.solo else ""
    return f"{_level(db)}{alone}"


def turn_lines(rows: Sequence[Turn], at: int | None, *, key: Callable[[str], str]) -> list[Text]:
    """Return the rows, the one under the cursor marked, and what turns it."""
    out = []
    for place_of, one in enumerate(rows):
        here = place_of == at
        does = f"   {_does(one.kind, key)}" if here else ""
        out.append(
            text(
                "  ▸ " if here else "    ",
                (f"{cut(one.name, 14)}  ", FAINT),
                (one.value, HERE if here else STRONG),
                (does, FAINT),
            )
        )
    return out


def _does(kind: str, key: Callable[[str], str]) -> str:
    arrows = f"{key('walk_left')}{key('walk_right')}"
    return {
        "match": f"{key('enter')} on, off",
        "bars": f"{arrows} earlier, later; {key('enter')} which bars",
        "under": f"{arrows} quieter, louder; {key('enter')} on, off",
        "blind": f"{arrows} how; {key('enter')} begin",
        "microphone": f"{arrows} quieter, louder; {key('enter')} alone",
    }[kind]
