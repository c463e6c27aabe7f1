"""Listening: the sounds of a part roll together, a key flips to each; what can be turned stands below."""

from __future__ import annotations

from functools import partial, reduce
from typing import Any

from msgspec.structs import replace
from rich.text import Text
from textual.app import ComposeResult
from textual.events import Key

from audio.jobs.news import Snapshot
from audio.jobs.orders import BeginBlind, Listen, LookAtSounds, SayOfVariant
from audio.jobs.sections import covered
from audio.plan.blind import least_planned, planned_problem, proposed_planned
from audio.plan.listening import next_to, steered
from audio.vocab.balance import HIGHEST_DB, LOWEST_DB, Balance, Fader
from audio.vocab.blind import LONGEST_LISTENER, Mode, listener_problem, mode_problem
from audio.vocab.errors import UseError
from audio.vocab.listening import (
    LOWEST_UNDER_DB,
    Flip,
    GoRound,
    LeaveOut,
    ListeningNow,
    MatchThem,
    SetBalance,
    SetUnder,
    Steer,
)
from audio.vocab.messages import Span
from audio.vocab.section import Section
from audio.vocab.section_text import parse_section, section_problem
from audio.vocab.status import Status
from audio.vocab.variant import Summary
from tui.actions import RATE
from tui.present.blind_rows import NAMES
from tui.present.listening import (
    Turn,
    by_letter,
    head,
    place,
    sound_line,
    turn_lines,
    turns,
)
from tui.present.looks import CARE, FAINT, in_sight, paragraph, text
from tui.present.top import key_line, rule
from tui.screens.asking import NameScreen
from tui.screens.face import bindings
from tui.screens.note_keys import ACTIONS as OF_NOTES
from tui.screens.note_keys import NoteKeys
from tui.stepping import stepped
from tui.tempi import chosen_grid
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
ASKS = "Which bars or seconds go round? Such as: bars 5-8, or 12.5-18 s; empty is the whole part"

WHO = "Who listens blind? A name; each has their own answers"
HOW_OFTEN = "How many answers? At least {least}; nothing is told before all of them are in"

MODES: tuple[Mode, ...] = ("pairs", "ranking", "apart")

STEP_DB = 1.0
"""A fader moves by so much at a press."""

MOST_TURNS = 7
"""Rows of what can be turned that are in sight at once."""


class ListeningScreen(NoteKeys):
    """One row for each sound, and below it what can be turned."""

    ACTIONS = (
        "go", "choose_up", "choose_down", "flip_back", "enter", "walk_left", "walk_right", "section",
        "scroll_left", "scroll_right", "take_out", *OF_NOTES, "evidence", "back", "stop", "keys",
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

    def __init__(self, part: str) -> None:
        super().__init__()
        self.part = part
        self._section: Section | None = None
        self._told: dict[tuple[type, str], Steer] = {}
        self._turning: int | None = None
        self._mode: Mode = "pairs"
        self._listener = ""
        self._looked: Snapshot | None = None

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

    @property
    def sounding(self) -> bool:
        """Whether something is listened to, or about to be."""
        return self.desk.model.doing == "sounds"

    def now(self) -> ListeningNow | None:
        """Return how it stands: as it rolls, or as it would begin."""
        now = self.desk.model.sounds
        if now is None or now.part != self.part:
            return None
        return now if self.sounding else reduce(steered, self._told.values(), now)

    def noted(self) -> Summary | None:
        """Return the variant that is heard."""
        now = self.now()
        number = now.sound(now.heard).number if now is not None else None  # type: ignore[union-attr]
        variants = self.desk.model.variants_of(self.part)
        return next((one for one in variants if one.number == number), None)

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

    def frame(self, status: Status | None) -> int | None:
        """Return the timeline's frame that is heard now; None while nothing rolls."""
        rolls = self.sounding and status is not None and status.roll_id >= 0
        return status.timeline_frame if status is not None and rolls else None

    def _draw_head(self, now: ListeningNow, status: Status | None) -> None:
        columns, frame = self.size.width, self.frame(status)
        bars = chosen_grid(self.desk.model, rate=now.sample_rate)
        self.lines("head").put(
            [
                head(now, columns, stretch=self._stretch(), sounds=self.sounding),
                place(now, frame, columns, bars=bars),
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

    def _turns(self, now: ListeningNow) -> list[Turn]:
        return turns(now, stretch=self._stretch(), blind=NAMES[self._mode])

    def _stretch(self) -> str:
        return f"{self._section}" if self._section is not None else "the whole part"

    def tick(self, status: Status | None) -> None:
        """Move the place."""
        now = self.now()
        if now is not None and self.sounding:
            self._draw_head(now, status)

    # ------------------------------------------------------------ steering

    def steer(self, asked: Steer) -> None:
        """Change something: at once where it rolls, else for when it begins."""
        model, now = self.desk.model, self.now()
        if now is None:
            return
        name = getattr(asked, "key", "") or getattr(asked, "name", "")
        self._told[(type(asked), "" if isinstance(asked, Flip) else name)] = asked
        if self.sounding:
            model.sounds = steered(now, asked)
            self.desk.link.steer(asked)
        self.desk.notice = ""
        self.draw()

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

    def _row(self, now: ListeningNow) -> Turn | None:
        """Return what is under the cursor; another sound may have fewer microphones."""
        if self._turning is None:
            return None
        rows = self._turns(now)
        self._turning = min(self._turning, len(rows) - 1)
        return rows[self._turning]

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

    def action_take_out(self) -> None:
        """Leave the sound that is heard out of the comparison, or take it in again."""
        now = self.now()
        if now is not None:
            self.steer(LeaveOut(key=now.heard, out=now.heard not in now.out))

    # ------------------------------------------------------------ blind

    def _ask_who(self) -> None:
        """Ask who listens blind, then how often."""
        now = self.now()
        if now is None:
            return
        mode, sounds = self._mode, tuple(one.key for one in now.compared())
        if problem := mode_problem(mode, len(sounds)):
            self.desk.notice = f"{problem}; {self.key('take_out')} leaves a sound out"
            return
        self.desk.push_screen(
            NameScreen(
                WHO,
                first=self._listener,
                problem=listener_problem,
                named=partial(self._ask_how_often, mode, sounds),
                longest=LONGEST_LISTENER,
            )
        )

    def _ask_how_often(self, mode: Mode, sounds: tuple[str, ...], listener: str) -> None:
        self._listener = listener
        asks = HOW_OFTEN.format(least=least_planned(mode, len(sounds)))
        screen = NameScreen(
            asks,
            first=f"{proposed_planned(mode, len(sounds))}",
            problem=partial(_no_number, mode, len(sounds)),
            named=partial(self._begin_blind, mode, sounds),
            longest=3,
        )
        self.desk.push_screen(screen)

    def _begin_blind(self, mode: Mode, sounds: tuple[str, ...], planned: str) -> None:
        from tui.screens.blind import BlindScreen  # noqa: PLC0415 - most evenings never need it

        self.steer(MatchThem(on=True))
        self.desk.model.blind = None
        asked = BeginBlind(
            part=self.part,
            mode=mode,
            sounds=sounds,
            listener=self._listener,
            planned=int(planned),
        )
        self.desk.link.ask(asked)
        self.desk.push_screen(BlindScreen(self))

    def hear_first(self) -> None:
        """Hear the first sound of the list."""
        now = self.now()
        if now is not None:
            self.steer(Flip(key=now.compared()[0].key))

    # ------------------------------------------------------------ the stretch

    def action_section(self) -> None:
        """Ask which bars go round."""
        first = f"{self._section}" if self._section is not None else ""
        screen = NameScreen(ASKS, first=first, problem=self._no_section, named=self._take_section)
        self.desk.push_screen(screen)

    def _no_section(self, typed: str) -> str | None:
        if not typed:
            return None
        model = self.desk.model
        return section_problem(typed) or model.no_section(parse_section(typed), self.part)

    def _take_section(self, typed: str) -> None:
        self._go_round(parse_section(typed) if typed else None)

    def action_scroll_left(self) -> None:
        """Let the stretch before this one go round."""
        self._move(-1)

    def action_scroll_right(self) -> None:
        """Let the stretch behind this one go round."""
        self._move(1)

    def _move(self, step: int) -> None:
        if self._section is None:
            self.desk.notice = f"the whole part goes round; {self.key('section')} chooses bars"
            self.draw()
        else:
            self._go_round(_moved(self._section, step))

    def _go_round(self, section: Section | None) -> None:
        try:
            span = self._span(section)
        except UseError as error:
            self.desk.notice = f"{error}"
            self.draw()
            return
        self._section = section
        if span is None:
            self._told.pop((GoRound, ""), None)
            self.desk.notice = "the whole part goes round from the next start on"
        else:
            self.steer(GoRound(span=span))
        self.draw()

    def _span(self, section: Section | None) -> Span | None:
        """Return the frames of a section; None for the whole part where nobody knows its end."""
        model, now = self.desk.model, self.now()
        chosen, facts = model.chosen(), model.facts()
        if now is None or chosen is None or facts is None or section is None:
            return Span(start=0, end=now.whole) if now is not None and section is None else None
        covers = covered(
            section,
            chosen[0],
            tempo=model.tempo(chosen[0]),
            time_reference=facts.time_reference,
            frames=facts.frames,
            rate=facts.sample_rate,
        )
        return Span(start=covers.section_from_frame, end=covers.section_to_frame)

    # ------------------------------------------------------------ the rest

    def action_go(self) -> None:
        """Listen, or stop."""
        steers = tuple(self._told.values())
        self.desk.control.listen(Listen(part=self.part, steers=steers))

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


def _no_number(mode: Mode, sounds: int, typed: str) -> str | None:
    if not (typed.isascii() and typed.isdigit()):
        return (
            f"{typed!r} is no number of answers; type one such as {proposed_planned(mode, sounds)}"
        )
    return planned_problem(mode, sounds, int(typed))


def _moved(section: Section, step: int) -> Section:
    """Return the stretch of the same length before or behind another one."""
    if section.from_bar is not None and section.to_bar is not None:
        by = step * (section.to_bar - section.from_bar + 1)
        return replace(section, from_bar=section.from_bar + by, to_bar=section.to_bar + by)
    first, last = section.from_s or 0.0, section.to_s or 0.0
    by_s = step * (last - first)
    return replace(section, from_s=round(first + by_s, 3), to_s=round(last + by_s, 3))


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
