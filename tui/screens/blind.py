"""Blind: places without names, flipped between while they roll; nothing here tells which is which."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text
from textual.app import ComposeResult
from textual.events import Key

from audio.jobs.orders import AnswerBlind, EndBlind
from audio.vocab.blind import Said, SittingNow, Trial
from audio.vocab.listening import Flip
from audio.vocab.status import Status
from tui.present.blind_rows import Row, head_line, row_lines, rows_of
from tui.present.blind_words import told_lines
from tui.present.looks import CARE, FAINT, STRONG, paragraph, text, window
from tui.present.top import key_line
from tui.screens.face import Face, bindings
from tui.stepping import stepped
from tui.timing import Guard
from tui.widgets.lines import Lines

if TYPE_CHECKING:
    from tui.screens.blind_keys import BlindKeys

KEYS = (
    ("go", "listen"),
    ("choose_up+choose_down", "hear"),
    ("flip_back", "back and forth"),
    ("enter", "answer"),
    ("end_run", "end early"),
    ("back", "go on later"),
    ("keys", ""),
)
KEYS_RANKING = (
    *KEYS[:3],
    ("walk_left+walk_right", "rank"),
    ("enter", "done"),
    *KEYS[4:],
)
KEYS_OVER = (
    ("back", "to the sounds"),
    ("choose_up+choose_down", "read"),
    ("go", "listen"),
    ("keys", ""),
)

BEGIN = "Press {go}: all sounds roll together, and {up}{down} flip between them. Take your time."
MEASURING = "the sounds are still being matched in loudness; answers count once they are"
NOT_ALL = "hear every one of them first"
CHOOSE = "X is the one to judge: go to A, to B, or to cannot tell, then press {enter}"
RANK = "give each of them a rank with {left}{right}; equal ranks are a tie"


class BlindScreen(Face):
    """One row for each place of a trial.

    Parameters
    ----------
    listening
        The view below: what rolls, and how it is steered.
    """

    ACTIONS = (
        "go", "choose_up", "choose_down", "flip_back", "enter", "walk_left", "walk_right", "end_run",
        "back", "stop", "keys", "palette", "quit",
    )  # fmt: skip
    BINDINGS = bindings(*ACTIONS)
    DEFAULT_CSS = """
    BlindScreen { layout: vertical; }
    BlindScreen #head { height: 3; }
    BlindScreen #list { height: 1fr; }
    BlindScreen #message { height: auto; max-height: 3; }
    BlindScreen #keys { height: 2; }
    """

    def __init__(self, listening: BlindKeys) -> None:
        super().__init__()
        self._listening = listening
        self._guard = Guard()
        self._trial = 0
        self._at = self._before = 0
        self._heard: set[int] = set()
        self._ranks: list[int | None] = []

    def body(self) -> ComposeResult:
        """Make the view."""
        yield Lines(id="head")
        yield Lines(id="list")
        yield Lines(id="message")
        yield Lines(id="keys")

    def _sitting(self) -> SittingNow | None:
        stands = self.desk.model.blind
        return stands.now if stands is not None else None

    def keys_here(self) -> tuple[tuple[str, str], ...]:
        """Return the keys of this view."""
        now = self._sitting()
        if now is not None and now.state != "open":
            return KEYS_OVER
        keys = KEYS_RANKING if now is not None and now.sitting.mode == "ranking" else KEYS
        return (("go", "stop"), *keys[1:]) if self._listening.sounding else keys

    # ------------------------------------------------------------ drawing

    def draw_body(self) -> None:
        """Draw all that changed; a new trial begins at its first place."""
        now, columns = self._sitting(), self.size.width
        trial = now.next_trial if now is not None else None
        if now is not None and trial is not None and trial.index != self._trial:
            self._begin(now, trial)
        main = "enter" if self._listening.sounding and trial is not None else "go"
        keys = key_line(self.keys_here(), self.desk.settings, columns, main=main)
        self.lines("keys").put(self.foot(keys))
        self.lines("message").put(self._message(now, columns))
        self._draw_head(now, self.desk.status())
        self.lines("list").put(self._body(now, columns) if now is not None else [])

    def _begin(self, now: SittingNow, trial: Trial) -> None:
        self._trial, self._at, self._before = trial.index, 0, 1
        self._heard, self._ranks = set(), []
        if now.sitting.mode == "ranking":
            self._ranks = [None] * len(trial.behind)
        self._hear(trial, 0)

    def _draw_head(self, now: SittingNow | None, status: Status | None) -> None:
        columns, sounds = self.size.width, self._listening.now()
        first = head_line(now, columns) if now is not None else text()
        line = text()
        if sounds is not None and (now is None or now.state == "open"):
            line = self._listening.place_line(sounds, status, columns)
        self.lines("head").put([first, line, text()])

    def _body(self, now: SittingNow, columns: int) -> list[Text]:
        if now.state != "open":
            told = self.desk.model.blind.told if self.desk.model.blind is not None else ()
            lines = [text((f" {line}", STRONG)) for line in told_lines(told, columns - 2)]
            room = max(self.lines("list").size.height, 3)
            return window(lines, min(self._at, max(len(lines) - 1, 0)), room)
        rows = self._rows(now)
        return row_lines(
            rows, self._at, heard=self._heard, ranks=self._ranks, enter=self.key("enter")
        )

    def _rows(self, now: SittingNow) -> list[Row]:
        return rows_of(now, self._ranks)

    def _message(self, now: SittingNow | None, columns: int) -> list[Text]:
        if self.desk.model.troubles:
            return self.trouble(most=2)
        if self.desk.notice:
            return paragraph(self.desk.notice, columns, CARE)[:2]
        if now is not None and now.state == "open" and not self._listening.sounding:
            words = BEGIN.format(
                go=self.key("go"), up=self.key("choose_up"), down=self.key("choose_down")
            )
            return paragraph(words, columns, FAINT)
        return [text()]

    def tick(self, status: Status | None) -> None:
        """Move the place."""
        if self._listening.sounding:
            self._draw_head(self._sitting(), status)

    # ------------------------------------------------------------ hearing

    def on_key(self, event: Key) -> None:
        """Hear the place of a letter."""
        now = self._sitting()
        if now is None or now.next_trial is None:
            return
        for index, one in enumerate(self._rows(now)):
            if one.place is not None and event.key == one.name:
                event.stop()
                self._go_to(index)

    def action_choose_up(self) -> None:
        """Hear the place above."""
        self._step(-1)

    def action_choose_down(self) -> None:
        """Hear the place below, or go to the answer that is none of them."""
        self._step(1)

    def _step(self, step: int) -> None:
        now = self._sitting()
        if now is None:
            return
        if now.state != "open":
            self._at = max(self._at + step, 0)
            self.draw()
        else:
            self._go_to(stepped(range(len(self._rows(now))), self._at, step))

    def action_flip_back(self) -> None:
        """Hear the place that was heard before."""
        self._go_to(self._before)

    def _go_to(self, row: int) -> None:
        now = self._sitting()
        trial = now.next_trial if now is not None else None
        if now is None or trial is None or row == self._at:
            return
        self._before, self._at = self._at, row
        self.desk.notice = ""
        to = self._rows(now)[row].place
        if to is not None:
            self._hear(trial, to)
        self.draw()

    def _hear(self, trial: Trial, to: int) -> None:
        self._listening.steer(Flip(key=trial.behind[to]))
        if self._listening.sounding:
            self._heard.add(to)

    # ------------------------------------------------------------ answering

    def action_walk_left(self) -> None:
        """Rank the place that is heard better."""
        self._rank(-1)

    def action_walk_right(self) -> None:
        """Rank the place that is heard worse."""
        self._rank(1)

    def _rank(self, step: int) -> None:
        if self._at < len(self._ranks):
            rank = self._ranks[self._at]
            best = 1 if step < 0 else len(self._ranks)
            turned = best if rank is None else rank + step
            self._ranks[self._at] = min(max(turned, 1), len(self._ranks))
            self.draw()

    def action_enter(self) -> None:
        """Answer what the row under the cursor says."""
        now, sounds = self._sitting(), self._listening.now()
        trial = now.next_trial if now is not None else None
        if now is None or trial is None or not self._guard.press(self.desk.clock()):
            return
        row = self._rows(now)[self._at]
        hindrance = self._hindrance(now, row, trial)
        if hindrance or row.said is None or sounds is None:
            self.desk.notice = hindrance
            self.draw()
        else:
            self._answer(now, trial, row.said)

    def _hindrance(self, now: SittingNow, row: Row, trial: Trial) -> str:
        sounds = self._listening.now()
        if not self._listening.sounding or sounds is None:
            return f"press {self.key('go')} and listen first"
        if not (sounds.measured and sounds.matched):
            return MEASURING
        if len(self._heard) < len(trial.behind):
            return NOT_ALL
        if row.said is not None:
            return ""
        if now.sitting.mode == "ranking":
            return RANK.format(left=self.key("walk_left"), right=self.key("walk_right"))
        return CHOOSE.format(enter=self.key("enter"))

    def _answer(self, now: SittingNow, trial: Trial, said: Said) -> None:
        self.desk.notice = ""
        self.desk.link.ask(AnswerBlind(number=now.sitting.number, trial=trial.index, said=said))

    def action_end_run(self) -> None:
        """End the sitting before all is answered."""
        now = self._sitting()
        if now is not None and now.state == "open" and self._guard.press(self.desk.clock()):
            self.desk.link.ask(EndBlind(number=now.sitting.number))

    # ------------------------------------------------------------ the rest

    def action_go(self) -> None:
        """Listen, or stop."""
        now = self._sitting()
        if now is not None and now.state == "open" and not self._listening.sounding:
            place_of = self._rows(now)[self._at].place
            self._heard = set() if place_of is None else {place_of}
        self._listening.action_go()

    def action_back(self) -> None:
        """Put a message away, or go back to the sounds; the sitting stays open."""
        if self.desk.model.troubles:
            self.desk.put_away()
            return
        self._listening.hear_first()  # what was heard last tells nothing there
        self.desk.notice = ""
        self.desk.pop_screen()
        self.desk.changed()
