"""What listeners sent back of a hand-over, for the command line."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from audio.jobs.choices import ChoicesTold, ChosenBy, PartChosen, RefusedChoice
from audio.vocab.choice import ChoiceText, place_word
from tui.present.glyphs import cells_of, cut
from tui.present.results import INDENT
from tui.present.terminal import say, tell, width, wrapped

MOST_NAME = 30
"""Cells of a sound's name in the table."""

NONE_YET = "nobody has sent a choice yet; read one with `secondpass choices FILE`, a saved mail or its text"


def tell_choices(told: ChoicesTold) -> None:
    """Print what was noted, then a table of each part; what was refused goes to standard error."""
    columns = width(sys.stdout)
    for one in told.refused:
        say(refusal(one))
    for line in choice_lines(told, columns):
        tell(line)


def refusal(one: RefusedChoice) -> str:
    """Return why a choice of the file was not noted."""
    return f"secondpass: choice {one.at} was not noted: {one.reason}"


def choice_lines(told: ChoicesTold, columns: int) -> list[str]:
    """Return all of it in lines of at most so many characters, where words are not longer."""
    lines: list[str] = []
    for one in told.noted:
        lines += wrapped(f"noted: {_in_short(one)}", columns=columns)
    for one in told.already:
        lines += wrapped(f"already in the journal: {_in_short(one)}", columns=columns)
    for part in told.parts:
        lines += ["", *_part(part, columns)]
    if not told.parts:
        return [*lines, *wrapped(NONE_YET, columns=columns)]
    return [*lines, "", *_way_on(told.session, columns)]


def _way_on(session: str, columns: int) -> list[str]:
    """Return how a sound is kept; the command in one line, however long, so that it can be copied."""
    told = "nothing is kept by this, you decide: ! at the variants on the screen, or"
    keep = f'secondpass note {shlex.quote(session)} --part P --number N --keep "why"'
    return [*wrapped(told, columns=columns), f"  {keep}"]


def _in_short(one: ChoiceText) -> str:
    chosen = (f"{part} {', '.join(keys) or 'nothing'}" for part, keys in one.chosen.items())
    how = ", blind" if one.blind else ""
    return f"{one.listener}{how}, of {one.name}: {'; '.join(chosen)}"


def _part(part: PartChosen, columns: int) -> Iterator[str]:
    yield f"{part.part}, of {part.name}"
    rows = [(one.sound, _who(one.chosen_by) or "nobody") for one in part.sounds]
    if part.nothing:
        rows.append(("nothing", ", ".join(map(_name, part.nothing))))
    cells = min(max(cells_of(name) for name, _ in rows), MOST_NAME)
    for name, who in rows:
        head = f"{' ' * INDENT}{cut(name, cells)}  "
        told = wrapped(who, columns=max(columns - INDENT - cells - 2, 20))
        yield f"{head}{told[0]}"
        yield from (f"{' ' * (INDENT + cells + 2)}{line}" for line in told[1:])
    for said in part.said:
        yield from wrapped(
            f"{said.listener}: “{said.words}”", columns=max(columns, 2 * INDENT), indent=INDENT
        )


def _who(chosen: Sequence[ChosenBy]) -> str:
    """Return who chose a sound, by place: ``first Ana (blind), Ben; second Cleo``."""
    places = groupby(chosen, key=lambda one: one.place)
    return "; ".join(f"{place_word(place)} {_names(found)}" for place, found in places)


def _names(found: Iterable[ChosenBy]) -> str:
    return ", ".join(map(_name, found))


def _name(one: ChosenBy) -> str:
    return f"{one.listener} (blind)" if one.blind else one.listener
