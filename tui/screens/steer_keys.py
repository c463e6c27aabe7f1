"""What every view of listening stands on: what rolls, how it is steered, what is said of it."""

from __future__ import annotations

from functools import reduce
from typing import Any

from rich.text import Text

from audio.grid.bars import BarGrid
from audio.jobs.news import Snapshot
from audio.jobs.orders import SayOfVariant
from audio.plan.listening import steered
from audio.vocab.listening import Flip, ListeningNow, Steer
from audio.vocab.status import Status
from audio.vocab.variant import Summary
from tui.present.listening import place
from tui.screens.note_keys import NoteKeys
from tui.tempi import chosen_grid


class SteerKeys(NoteKeys):
    """A view of a part's sounds, rolling or not.

    Parameters
    ----------
    part
        Whose sounds.
    """

    def __init__(self, part: str) -> None:
        super().__init__()
        self.part = part
        self._told: dict[tuple[type, str], Steer] = {}
        """What was changed, the last of each kind: so it begins the next time, too."""
        self._bars_of: tuple[Snapshot | None, BarGrid | None] | None = None

    @property
    def sounding(self) -> bool:
        """Whether something is listened to, or about to be."""
        return self.desk.model.doing == "sounds"

    def now(self) -> ListeningNow | None:
        """Return how it stands: as it rolls, or as it would begin."""
        now = self.desk.model.listening
        if now is None or now.part != self.part:
            return None
        return now if self.sounding else reduce(steered, self._told.values(), now)

    def noted(self) -> Summary | None:
        """Return the variant that is heard."""
        now = self.now()
        number = now.heard_sound().number if now is not None else None
        variants = self.desk.model.variants_of(self.part)
        return next((one for one in variants if one.number == number), None)

    def place_line(self, now: ListeningNow, status: Status | None, columns: int) -> Text:
        """Return where the stretch that goes round is now; bars are looked up once a snapshot."""
        model = self.desk.model
        if self._bars_of is None or self._bars_of[0] is not model.snapshot:
            self._bars_of = (model.snapshot, chosen_grid(model, rate=now.sample_rate))
        return place(now, self.frame(status), columns, bars=self._bars_of[1])

    def frame(self, status: Status | None) -> int | None:
        """Return the timeline's frame that is heard now; None while nothing rolls."""
        rolls = self.sounding and status is not None and status.roll_id >= 0
        return status.timeline_frame if status is not None and rolls else None

    def steer(self, asked: Steer) -> None:
        """Change something: at once where it rolls, else for when it begins."""
        model, now = self.desk.model, self.now()
        if now is None:
            return
        name = getattr(asked, "key", "") or getattr(asked, "name", "")
        self._told[(type(asked), "" if isinstance(asked, Flip) else name)] = asked
        if self.sounding:
            model.listening = steered(now, asked)
            self.desk.link.steer(asked)
        self.desk.notice = ""
        self.draw()

    def say(self, **said: Any) -> None:
        """Say something of the variant that is heard, also while it sounds; kept is what is heard."""
        one, now = self.noted(), self.now()
        if one is None or now is None:
            return
        if said.get("keeper"):
            said["balance"] = now.balance(now.heard)
        if not self.sounding:
            super().say(**said)
            return
        self.desk.notice = ""
        self.desk.link.ask(SayOfVariant(part=one.part, number=one.number, **said))
