"""The rows below the sounds: matching, stretch, what plays under them, microphones, blind."""

from __future__ import annotations

from msgspec.structs import replace

from audio.vocab.balance import HIGHEST_DB, LOWEST_DB, Balance, Fader
from audio.vocab.listening import (
    LOWEST_UNDER_DB,
    ListeningNow,
    MatchThem,
    SetBalance,
    SetUnder,
)
from tui.present.blind_rows import NAMES
from tui.present.listening import Turn, turns
from tui.screens.blind_keys import MODES, BlindKeys
from tui.stepping import stepped

STEP_DB = 1.0
"""A fader moves by so much at a press."""


class TurnKeys(BlindKeys):
    """What enter and the arrows do at these rows; `_turning` is the row, None while the cursor is above."""

    _turning: int | None = None

    def _turns(self, now: ListeningNow) -> list[Turn]:
        return turns(now, stretch=self._stretch(), blind=NAMES[self._mode])

    def _row(self, now: ListeningNow) -> Turn | None:
        """Return what is under the cursor; another sound may have fewer microphones."""
        if self._turning is None:
            return None
        rows = self._turns(now)
        self._turning = min(self._turning, len(rows) - 1)
        return rows[self._turning]

    def action_enter(self) -> None:
        """Go to what can be turned; there: turn it on or off."""
        now = self.now()
        if now is None:
            return
        row = self._row(now)
        if row is None:
            self._turning = 0
        elif row.kind == "match":
            self.steer(MatchThem(on=not now.matched))
        elif row.kind == "bars":
            self.action_section()
        elif row.kind == "blind":
            self._ask_who()
        elif row.kind == "under":
            db = next(one.db for one in now.under if one.name == row.name)
            self.steer(SetUnder(name=row.name, db=-6.0 if db is None else None))
        else:
            self.steer(SetBalance(key=now.heard, balance=_alone(now.balance(now.heard), row.name)))
        self.draw()

    def action_walk_left(self) -> None:
        """Turn what is under the cursor down, or move the stretch back."""
        self._turn(-1)

    def action_walk_right(self) -> None:
        """Turn what is under the cursor up, or move the stretch on."""
        self._turn(1)

    def _turn(self, step: int) -> None:
        now = self.now()
        row = self._row(now) if now is not None else None
        if now is None or row is None:
            return
        if row.kind == "match":
            self.steer(MatchThem(on=step > 0))
        elif row.kind == "bars":
            self._move(step)
        elif row.kind == "blind":
            self._mode = stepped(MODES, MODES.index(self._mode), step)
            self.draw()
        elif row.kind == "under":
            db = next(one.db for one in now.under if one.name == row.name)
            self.steer(SetUnder(name=row.name, db=_turned(db, step, lowest=LOWEST_UNDER_DB)))
        else:
            balance = now.balance(now.heard)
            self.steer(SetBalance(key=now.heard, balance=_faded(balance, row.name, step)))


def _turned(db: float | None, step: int, *, lowest: float) -> float | None:
    """Return a level one step further; under the lowest it is off."""
    if db is None:
        return lowest if step > 0 else None
    turned = min(db + step * STEP_DB, HIGHEST_DB)
    return turned if turned >= lowest else None


def _faded(balance: Balance, name: str, step: int) -> Balance:
    db = next((one.db for one in balance.faders if one.name == name), 0.0)
    others = tuple(one for one in balance.faders if one.name != name)
    fader = Fader(name=name, db=_turned(db, step, lowest=LOWEST_DB))
    return replace(balance, faders=(*others, fader))


def _alone(balance: Balance, name: str) -> Balance:
    solo = tuple(one for one in balance.solo if one != name)
    return replace(balance, solo=solo if name in balance.solo else (*solo, name))
