"""A chain while it is written on the screen: rows to be changed, no widgets."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Literal

from msgspec.structs import replace

from audio.vocab.chain import AmpAsSet, Chain, MicAsSet, Pedal
from audio.vocab.characters import is_hidden
from audio.vocab.names import BARE_PATH, chain_problem, twin_key

RowKind = Literal["name", "pedal", "knob", "moves", "amp", "mic", "note", "save", "save own"]

LONGEST = 80
"""Characters of a pedal's name, a knob's name and a setting: they stand on a card."""

AMP_FIELDS = ("input", "speaker", "tap")
MIC_FIELDS = ("mic", "place", "preamp", "gain", "pad", "filters", "outboard")

_CLOCK = re.compile(r"(1[0-2]|[1-9]):([0-5][0-9])")
_NUMBER = re.compile(r"-?[0-9]{1,3}(\.[05])?")

CLOCK_STEP_MIN = 30
"""How far one press turns a knob that is read as a clock."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row: what it is, and where."""

    kind: RowKind
    label: str
    value: str = ""
    group: int = -1
    """Index of the pedal, the amp or the microphone."""
    key: str = ""
    """Of a knob or a setting."""
    line: int = 0
    """Of a pedal: 0 in front of the amps, 1 in the first amp's effects loop, and so on."""


@dataclass(slots=True)
class PedalDraft:
    """A pedal as it stands."""

    name: str
    knobs: dict[str, str] = field(default_factory=dict)
    moves: bool = False
    note: str = ""


class ChainDraft:
    """What becomes a new file.

    Parameters
    ----------
    base
        The chain it starts from; None for a new one.
    name
        What it is called at first.
    returns
        Names of the wiring's returns: each may have a microphone.
    taken
        Names of the chains there are.
    """

    def __init__(
        self, *, base: Chain | None, name: str, returns: Sequence[str], taken: Sequence[str]
    ) -> None:
        start = base or Chain(name=name)
        self.name = "" if name == BARE_PATH else name
        self.note = start.note
        self._amps = list(start.amps) or [AmpAsSet()]
        in_loops = (one.loop for one in self._amps)
        self._lines = [[_pedal(one) for one in line] for line in (start.pedals, *in_loops)]
        self._photos = start.photos
        mics = {one.return_name: one for one in start.mics}
        self._mics = [mics.get(one, MicAsSet(return_name=one)) for one in returns]
        self._mics += [one for key, one in mics.items() if key not in returns]
        self._taken = {twin_key(one) for one in taken}

    # ------------------------------------------------------------ what stands there

    def rows(self) -> list[Row]:
        """Return every row from the top."""
        rows = [Row("name", "name", self.name), *self._pedal_rows(0)]
        for at, amp in enumerate(self._amps):
            rows += [*self._amp_rows(at, amp), *self._pedal_rows(at + 1)]
        for at, mic in enumerate(self._mics):
            rows += [
                Row("mic", f"{mic.return_name} {key}", str(getattr(mic, key)), at, key)
                for key in MIC_FIELDS
            ]
        rows.append(Row("note", "note", self.note))
        return [*rows, Row("save", "save", "with this session"), Row("save own", "save", "for all")]

    def _pedal_rows(self, line: int) -> list[Row]:
        rows = []
        for at, pedal in enumerate(self._lines[line]):
            where = "in the amp's loop" if line else ""
            rows.append(Row("pedal", pedal.name, where, at, line=line))
            rows += [
                Row("knob", knob, value, at, knob, line) for knob, value in pedal.knobs.items()
            ]
            moves = "by itself" if pedal.moves else "no"
            rows.append(Row("moves", "moves", moves, at, line=line))
        return rows

    def _amp_rows(self, at: int, amp: AmpAsSet) -> list[Row]:
        called = amp.name or "amp"
        rows = [
            Row("amp", f"{called} {key}", str(getattr(amp, key)), at, key) for key in AMP_FIELDS
        ]
        knobs = amp.knobs.items()
        return [*rows, *(Row("amp", f"{called} {key}", value, at, key) for key, value in knobs)]

    # ------------------------------------------------------------ changing it

    def problem(self, row: Row, value: str) -> str | None:
        """Return why a row cannot be set so, with the way out; None where it can."""
        if row.kind == "name":
            return self.name_problem(value)
        if any(is_hidden(c) for c in value):
            return "there is a hidden character in it; type it again"
        if len(value) > LONGEST:
            return f"longer than {LONGEST} characters; shorten it"
        if row.kind == "pedal":
            mine = self._lines[row.line][row.group] if row.group >= 0 else None
            others = [
                twin_key(p.name)
                for p in itertools.chain.from_iterable(self._lines)
                if p is not mine
            ]
            if not value:
                return "a pedal needs a name; take it out by its own key instead"
            if twin_key(value) in others:
                return f"there is a pedal {value!r} already; call this one otherwise, such as 'drive 2'"
        return None

    def name_problem(self, name: str) -> str | None:
        """Return why the chain cannot be called so."""
        if problem := chain_problem(name):
            return problem
        if twin_key(name) in self._taken:
            return (
                f"there is a chain {name!r} already, and none is ever replaced; call it otherwise"
            )
        return None

    def put(self, row: Row, value: str) -> None:
        """Set a row to what was typed; an emptied knob is left out."""
        match row.kind:
            case "name":
                self.name = value
            case "note":
                self.note = value
            case "pedal":
                self._pedal(row).name = value
            case "knob":
                _put(self._pedal(row).knobs, row.key, value)
            case "amp":
                self._amps[row.group] = _amp_with(self._amps[row.group], row.key, value)
            case "mic":
                one = self._mics[row.group]
                self._mics[row.group] = replace(one, **{row.key: value})
            case _:
                pass

    def new_pedal_problem(self, name: str) -> str | None:
        """Return why no pedal can be called so."""
        return self.problem(Row("pedal", "", group=-1), name)

    def add_pedal(self, name: str, *, behind: Row) -> int:
        """Put a pedal behind that of a row, at the name in front, else at the end; return its row."""
        line = self._lines[behind.line]
        first = 0 if behind.kind == "name" else len(line)
        pedal = PedalDraft(name)
        line.insert(behind.group + 1 if self.pedal(behind) else first, pedal)
        return self.row_of(pedal)

    def knob_problem(self, row: Row, knob: str) -> str | None:
        """Return why a pedal or amp cannot have such a knob."""
        if not knob:
            return "a knob needs a name, as it is printed beside it"
        there = self._amps[row.group].knobs if row.kind == "amp" else self._pedal(row).knobs
        if knob in there or (row.kind == "amp" and knob in AMP_FIELDS):
            return f"there is a {knob} already; choose its line instead"
        return self.problem(Row("knob", ""), knob)

    def add_knob(self, row: Row, knob: str) -> int:
        """Give a pedal or an amp a knob, in the middle until it is turned; return its row."""
        if row.kind == "amp":
            amp = self._amps[row.group]
            self._amps[row.group] = replace(amp, knobs={**amp.knobs, knob: "12:00"})
        else:
            self._pedal(row).knobs[knob] = "12:00"
        kind = "amp" if row.kind == "amp" else "knob"
        place = (kind, row.line, row.group, knob)
        return self._first(lambda one: (one.kind, one.line, one.group, one.key) == place)

    def take_out(self, row: Row) -> None:
        """Take a pedal or a knob out; a setting is emptied."""
        if row.kind == "pedal":
            del self._lines[row.line][row.group]
        elif row.kind in ("knob", "amp", "mic", "note"):
            self.put(row, "")

    def step(self, row: Row, step: int) -> None:
        """Move a pedal with or against the signal, into an amp's loop at the end; or turn a knob."""
        if row.kind == "pedal":
            self._move(row, step)
        elif row.kind == "moves":
            self._pedal(row).moves = not self._pedal(row).moves
        elif row.kind in ("knob", "amp", "mic"):
            self.put(row, turned(row.value, step))

    def _move(self, row: Row, step: int) -> None:
        here, to = self._lines[row.line], row.group + step
        if 0 <= to < len(here):
            here.insert(to, here.pop(row.group))
        elif 0 <= row.line + step < len(self._lines):
            there = self._lines[row.line + step]
            there.insert(0 if step > 0 else len(there), here.pop(row.group))

    def row_of(self, pedal: PedalDraft) -> int:
        """Return the place of a pedal's row among all rows."""
        return self._first(lambda row: self.pedal(row) is pedal)

    def _first(self, right: Callable[[Row], bool]) -> int:
        return next(at for at, row in enumerate(self.rows()) if right(row))

    def pedal(self, row: Row) -> PedalDraft | None:
        """Return the pedal a row belongs to."""
        return self._pedal(row) if row.kind in ("pedal", "knob", "moves") else None

    def _pedal(self, row: Row) -> PedalDraft:
        return self._lines[row.line][row.group]

    def chain(self) -> Chain:
        """Return it as it stands."""
        amps = (
            replace(amp, loop=tuple(_set(one) for one in line))
            for amp, line in zip(self._amps, self._lines[1:], strict=True)
        )
        return Chain(
            name=self.name,
            pedals=tuple(_set(one) for one in self._lines[0]),
            amps=tuple(one for one in amps if one != AmpAsSet()),
            mics=tuple(m for m in self._mics if m != MicAsSet(return_name=m.return_name)),
            photos=self._photos,
            note=self.note,
        )


def turned(value: str, step: int) -> str:
    """Return a knob turned on or back: a clock by half an hour, a number by a half; others as they are."""
    if clock := _CLOCK.fullmatch(value):
        minutes = (int(clock[1]) % 12) * 60 + int(clock[2]) + step * CLOCK_STEP_MIN
        hours, rest = divmod(minutes % 720, 60)
        return f"{hours or 12}:{rest:02d}"
    if _NUMBER.fullmatch(value):
        return f"{float(value) + step / 2:g}"
    return value


def _pedal(one: Pedal) -> PedalDraft:
    return PedalDraft(name=one.name, knobs=dict(one.knobs), moves=one.moves, note=one.note)


def _set(one: PedalDraft) -> Pedal:
    return Pedal(name=one.name, knobs=dict(one.knobs), moves=one.moves, note=one.note)


def _put(knobs: dict[str, str], key: str, value: str) -> None:
    if value:
        knobs[key] = value
    else:
        knobs.pop(key, None)


def _amp_with(amp: AmpAsSet, key: str, value: str) -> AmpAsSet:
    if key in AMP_FIELDS:
        return replace(amp, **{key: value})
    knobs = dict(amp.knobs)
    _put(knobs, key, value)
    return replace(amp, knobs=knobs)
