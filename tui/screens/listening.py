"""Listening: the sounds of a part roll together, a key flips to each; what can be turned stands below."""

from __future__ import annotations

from rich.text import Text
from textual.app import ComposeResult
from textual.events import Key

from audio.jobs.news import Snapshot
from audio.jobs.orders import Listen, LookAtSounds
from audio.plan.listening import next_to
from audio.vocab.listening import (
    Flip,
    LeaveOut,
    ListeningNow,
)
from audio.vocab.status import Status
from tui.actions import RATE
from tui.present.listening import (
    by_letter,
    head,
    sound_line,
    turn_lines,
)
from tui.present.looks import CARE, FAINT, in_sight, paragraph, text
from tui.present.top import key_line, rule
from tui.screens.face import bindings
from tui.screens.note_keys import ACTIONS as OF_NOTES
from tui.screens.turn_keys import TurnKeys
from tui.stepping import stepped
from tui.widgets.lines import Lines

KEYS = (
    ("go", "listen"),
    ("choose_up+choose_down", "flip"),
    ("flip_back", "back and forth"),
    ("enter", "balance"),
    ("section", "bars"),
    ("scroll_left+scroll_right", "move them"),
    (RATE, "rate"),
    ("keep", ""),
    ("take_out", "leave out"),
    ("differ", ""),
    ("back", ""),
    ("keys", ""),
)
KEYS_TURNING = (
    ("go", "listen"),
    ("choose_up+choose_down", "row"),
    ("walk_left+walk_right", "turn"),
    ("enter", "on, off"),
    ("flip_back", "back and forth"),
    ("back", "to the sounds"),
    ("keys", ""),
)

EMPTY = "There is nothing to listen to yet: {why}"
BEGIN = (
    "All sounds roll together, each flip stays on the beat. Turn monitors and headphones down, then press"
    " {go}; a sound's letter with shift flips to it. Nothing is sent to the amp."
)
MOST_TURNS = 7
"""Rows of what can be turned that are in sight at once."""


class ListeningScreen(TurnKeys):
    """One row for each sound, and below it what can be turned."""

    ACTIONS = (
        "go", "choose_up", "choose_down", "flip_back", "enter", "walk_left", "walk_right", "section",
        "scroll_left", "scroll_right", "take_out", *OF_NOTES, "evidence", "differ", "back", "stop", "keys",
        "palette", "quit",
    )  # fmt: skip
    BINDINGS = bindings(*ACTIONS)
    DEFAULT_CSS = """
    ListeningScreen { layout: vertical; }
    ListeningScreen #head { height: 3; }
    ListeningScreen #list { height: 1fr; }
    ListeningScreen #turns { height: auto; }
    ListeningScreen #message { height: auto; max-height: 3; }
    ListeningScreen #keys { height: 2; }
    """

    _looked: Snapshot | None = None

    def body(self) -> ComposeResult:
        """Make the view."""
        yield Lines(id="head")
        yield Lines(id="list")
        yield Lines(id="turns")
        yield Lines(id="message")
        yield Lines(id="keys")

    def keys_here(self) -> tuple[tuple[str, str], ...]:
        """Return the keys of this view."""
        keys = KEYS if self._turning is None else KEYS_TURNING
        return (("go", "stop"), *keys[1:]) if self.sounding else keys

    # ------------------------------------------------------------ drawing

    def draw_body(self) -> None:
        """Draw all that changed."""
        self._look()
        columns, now = self.size.width, self.now()
        keys = key_line(self.keys_here(), self.desk.settings, columns)
        self.lines("keys").put(self.foot(keys))
        self.lines("message").put(self._message(now, columns))
        if now is None:
            self.lines("head").put([text((f" {self.part}", FAINT))])
            self.lines("list").put([])
            self.lines("turns").put([])
            return
        self._draw_head(now, self.desk.status())
        rows = self._turns(now)
        shown = turn_lines(rows, self._turning, key=self.key)
        seen = in_sight(len(shown), self._turning or 0, self._room(now))
        self.lines("turns").put([rule(columns), *shown[seen.start : seen.stop]])
        self._draw_list(now, columns)

    def _look(self) -> None:
        """Ask what there is to listen to, once for each picture of the session, unless it rolls."""
        snapshot = self.desk.model.snapshot
        if not self.sounding and snapshot is not self._looked:
            self._looked = snapshot
            self.desk.runner_look(LookAtSounds(part=self.part))

    def _room(self, now: ListeningNow) -> int:
        least = min(len(now.sounds), 5)
        return max(min(MOST_TURNS, self.size.height - 9 - least), 2)

    def _draw_head(self, now: ListeningNow, status: Status | None) -> None:
        columns = self.size.width
        self.lines("head").put(
            [
                head(now, columns, stretch=self._stretch(), sounds=self.sounding),
                self.place_line(now, status, columns),
                text(),
            ]
        )

    def _draw_list(self, now: ListeningNow, columns: int) -> None:
        notes = self.desk.model.notes
        listed = [
            sound_line(
                now,
                one,
                columns,
                said=notes.of(self.part, one.number) if one.number is not None else None,
                listed=self._turning is None,
            )
            for one in now.sounds
        ]
        at = next(at for at, one in enumerate(now.sounds) if one.key == now.heard)
        seen = in_sight(len(listed), at, max(self.lines("list").size.height, 3))
        self.lines("list").put(listed[seen.start : seen.stop])

    def _message(self, now: ListeningNow | None, columns: int) -> list[Text]:
        model = self.desk.model
        if model.troubles:
            return self.trouble(most=2)
        if self.desk.notice:
            return paragraph(self.desk.notice, columns, CARE)[:2]
        if now is None:
            why = model.no_sounds
            words = EMPTY.format(why=why) if why else "looking what there is to listen to …"
            return paragraph(words, columns, FAINT)[:3]
        if now.problem:
            return paragraph(now.problem, columns, CARE)[:2]
        if not self.sounding:
            return paragraph(BEGIN.format(go=self.key("go")), columns, FAINT)[:3]
        return [text()]

    def tick(self, status: Status | None) -> None:
        """Move the place."""
        now = self.now()
        if now is not None and self.sounding:
            self._draw_head(now, status)

    def on_key(self, event: Key) -> None:
        """Flip to the sound of a letter."""
        now = self.now()
        key = by_letter(now, event.key) if now is not None else None
        if key is not None:
            event.stop()
            self.steer(Flip(key=key))

    def action_flip_back(self) -> None:
        """Hear the one that was heard before."""
        now = self.now()
        if now is not None:
            self.steer(Flip(key=now.before))

    def action_choose_up(self) -> None:
        """Hear the sound above, or go to the row above."""
        self._choose(-1)

    def action_choose_down(self) -> None:
        """Hear the sound below, or go to the row below."""
        self._choose(1)

    def _choose(self, step: int) -> None:
        now = self.now()
        if now is None:
            return
        if self._turning is None:
            self.steer(Flip(key=next_to(now, step)))
        else:
            rows = self._turns(now)
            self._turning = stepped(range(len(rows)), self._turning, step)
            self.draw()

    def action_take_out(self) -> None:
        """Leave the sound that is heard out of the comparison, or take it in again."""
        now = self.now()
        if now is not None:
            self.steer(LeaveOut(key=now.heard, out=now.heard not in now.out))

    # ------------------------------------------------------------ the rest

    def action_go(self) -> None:
        """Listen, or stop."""
        steers = tuple(self._told.values())
        self.desk.control.listen(Listen(part=self.part, steers=steers))

    def action_differ(self) -> None:
        """Show what is different between the sound that is heard and the one before it."""
        now = self.now()
        if now is not None:
            self.desk.show_differences(self.part, now.heard, now.before)

    def action_evidence(self) -> None:
        """Show what the verdict of the variant that is heard rests on."""
        one = self.noted()
        if one is not None:
            self.desk.show_evidence(one)

    def action_back(self) -> None:
        """Put a message away; from what can be turned to the sounds; stop and go back."""
        if self.desk.model.troubles:
            self.desk.put_away()
        elif self._turning is not None:
            self._turning = None
            self.draw()
        else:
            if self.sounding:
                self.desk.control.stop()
            self.desk.notice = ""
            self.desk.pop_screen()
            self.desk.changed()
