"""Is the DI ready: its waveform with hits and bars, and all that is to be said as a list that jumps."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from functools import cached_property

from rich.text import Text
from textual.app import ComposeResult

from audio.jobs.news import HitsCompared
from audio.jobs.orders import CheckPart, CompareHits
from audio.vocab.checked import Checked
from audio.vocab.readiness import Hit
from audio.vocab.session_file import Revision
from audio.vocab.timing import Doubles, PlacedHit, Timing
from tui.grid_asked import ASKS, asked_words, grid_problem, read_grid
from tui.present.check_words import level_line, pairs_line, state_words, timing_line
from tui.present.hit_marks import Mark
from tui.present.looks import (
    ACCENT,
    BAD,
    CARE,
    FAINT,
    PLAIN,
    STRONG,
    VERDICT_LOOKS,
    paragraph,
    text,
    two_sided,
)
from tui.present.ready_rows import Item, hit_line, items, rows
from tui.present.top import key_line
from tui.screens.asking import NameScreen
from tui.screens.face import Face, bindings
from tui.screens.wave_keys import WaveKeys
from tui.widgets.lines import Lines
from tui.widgets.waveform import Waveform

KEYS = (
    ("choose_up+choose_down", "findings"),
    ("walk_left+walk_right", "hits"),
    ("enter", "close look"),
    ("beside", ""),
    ("grid", ""),
    ("back", ""),
    ("keys", ""),
    ("zoom_in+zoom_out+whole", "zoom"),
    ("scroll_left+scroll_right", "scroll"),
    ("next_part", ""),
)

BACKING = "the backing track"

CLOSE_S = 0.1
"""What a close look shows: one hit, to some samples a column."""

LIST_ROWS = 5
"""Least rows of the list; it grows with the screen."""


class ReadyScreen(WaveKeys, Face):
    """One part's newest DI."""

    ACTIONS = (
        "back", "choose_up", "choose_down", "walk_left", "walk_right", "enter", "page_up", "page_down",
        "zoom_in", "zoom_out", "whole", "scroll_left", "scroll_right", "beside", "grid", "next_part",
        "reread", "go", "stop", "keys", "palette", "quit",
    )  # fmt: skip
    BINDINGS = bindings(*ACTIONS)
    DEFAULT_CSS = """
    ReadyScreen { layout: vertical; }
    ReadyScreen #head { height: auto; }
    ReadyScreen #wave { height: 1fr; margin: 0 1; }
    ReadyScreen #list { height: auto; }
    ReadyScreen #said { height: auto; max-height: 5; }
    ReadyScreen #keys { height: 2; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._at = 0
        self._hit: int | None = None
        """The hit the cursor is at; None while it is at a finding."""
        self._close = False
        self._waits_for: str | None = None
        """What is to be laid beside the part: another part, or the backing track where empty."""
        self._rows = 1

    def body(self) -> ComposeResult:
        """Make the view."""
        yield Lines(id="head")
        yield Waveform(id="wave")
        yield Lines(id="list")
        yield Lines(id="said")
        yield Lines(id="keys")

    def on_mount(self) -> None:
        """Show the chosen part."""
        super().on_mount()
        self.call_after_refresh(self.show_part)

    @cached_property
    def wave(self) -> Waveform:
        """The waveform."""
        return self.query_one("#wave", Waveform)

    def show_part(self) -> None:
        """Show the chosen part's waveform, and forget where the cursor was."""
        self._at, self._hit, self._close = 0, None, False
        self._waits_for = None
        self.desk.waves.show(self)
        self.draw()

    def keys_here(self) -> tuple[tuple[str, str], ...]:
        """Return the keys of this view."""
        return KEYS

    # ------------------------------------------------------------ what it knows

    @property
    def part(self) -> str:
        """The part that is shown."""
        return self.desk.model.part or ""

    def _checked(self) -> Checked | None:
        return self.desk.model.checks.of(self.part)

    def _beside(self) -> HitsCompared | None:
        beside = self.desk.model.checks.beside
        return beside if beside is not None and beside.part == self.part else None

    def _items(self) -> list[Item]:
        checked, beside = self._checked(), self._beside()
        if checked is None:
            return []
        doubles = beside.compared if beside is not None else None
        return items(checked, doubles, other=_called(beside))

    def _hits(self) -> tuple[Hit, ...]:
        checked = self._checked()
        return checked.measures.hits if checked is not None else ()

    def _placed(self, number: int) -> PlacedHit | None:
        checked = self._checked()
        timing = checked.timing if checked is not None else None
        return timing.hits[number] if isinstance(timing, Timing) else None

    # ------------------------------------------------------------ drawing

    def draw_body(self) -> None:
        """Draw all that changed."""
        columns, checked = self.size.width, self._checked()
        self._rows = max(LIST_ROWS, self.size.height // 4)
        self.lines("head").put(self._head(columns, checked))
        listed = self._items()
        self._at = min(self._at, max(len(listed) - 1, 0))
        self.lines("list").put(self._listed(listed, columns, checked))
        self.lines("said").put(self._said(listed, columns))
        keys = key_line(KEYS, self.desk.settings, columns, main="choose_up+choose_down")
        self.lines("keys").put(self.foot(keys))
        self._draw_wave(checked)

    def _draw_wave(self, checked: Checked | None) -> None:
        """Give the waveform its hits; beside another recording, how they lie to that one's."""
        if checked is None:
            return
        beside = self._beside()
        second = self._second()
        if beside is None or beside.compared is None or second is None:
            self.desk.waves.show_beside(None)
            self.wave.mark([*marks_of(checked), *faults_of(checked)])
            return
        revision, shift = second
        self.desk.waves.show_beside(revision, shift=shift)
        rate = checked.measures.facts.sample_rate
        mine, theirs = marks_beside(beside.compared, rate=rate, shift=shift)
        self.wave.mark([*mine, *faults_of(checked)], theirs)

    def _second(self) -> tuple[Revision, int] | None:
        """Return the other recording, and the frame of this one at which it begins."""
        model, beside = self.desk.model, self._beside()
        chosen, facts = model.chosen(), model.facts()
        if chosen is None or facts is None or beside is None or beside.compared is None:
            return None
        song = chosen[0]
        if beside.other:
            part = next((one for one in song.parts if one.name == beside.other), None)
            revision = part.revisions[-1] if part is not None else None
        elif song.backing is not None:
            of = song.backing
            revision = Revision(file=of.file, file_sha256=of.file_sha256)
        else:
            revision = None
        return None if revision is None else (revision, beside.shift)

    def _head(self, columns: int, checked: Checked | None) -> list[Text]:
        chosen = self.desk.model.chosen()
        revision = f"   revision {len(chosen[1].revisions)}" if chosen is not None else ""
        left = text(" ", (self.part, ACCENT), (revision, FAINT))
        if checked is None:
            problem = self.desk.model.checks.problem(self.part)
            words = (
                paragraph(problem, columns, BAD)
                if problem
                else [text((" looking the DI through …", FAINT))]
            )
            return [left, *words]
        state = text((f"{state_words(checked).upper()} ", VERDICT_LOOKS[checked.verdict]))
        return [
            two_sided(left, state, columns),
            text((f" {level_line(checked)}", FAINT)),
            *paragraph(timing_line(checked), columns, PLAIN)[:2],
            *self._beside_lines(columns),
        ]

    def _beside_lines(self, columns: int) -> list[Text]:
        beside = self._beside()
        if self._waits_for is not None and (beside is None or beside.other != self._waits_for):
            name = self._waits_for or BACKING
            return [text((f" looking at the hits of {name} …", FAINT))]
        if beside is None:
            return []
        if beside.compared is None:
            return paragraph(beside.problem, columns, CARE)[:2]
        return paragraph(pairs_line(beside.compared, what=f"beside {_called(beside)}"), columns)[:2]

    def _listed(self, listed: list[Item], columns: int, checked: Checked | None) -> list[Text]:
        if checked is None:
            return []
        if not listed:
            return [text((" nothing to say against it", STRONG))]
        rate = checked.measures.facts.sample_rate
        return rows(listed, self._at, columns=columns, most=self._rows, rate=rate)

    def _said(self, listed: list[Item], columns: int) -> list[Text]:
        if self.desk.model.troubles:
            return self.trouble(most=3)
        if self.desk.notice:
            return paragraph(self.desk.notice, columns, CARE)[:3]
        if self._hit is not None:
            hit = self._hits()[self._hit]
            rate = self.wave_rate()
            return paragraph(self._hit_line(hit, self._placed(self._hit), rate), columns, PLAIN)[:2]
        if not listed:
            return []
        one = listed[self._at]
        sure = f" ({one.sure})" if one.sure else ""
        told = paragraph(f"{one.words}{sure}", columns, PLAIN)
        return [*told, *paragraph(one.advice, columns, FAINT)][:5] if one.advice else told[:5]

    def _hit_line(self, hit: Hit, placed: PlacedHit | None, rate: int) -> str:
        checked = self._checked()
        bars = checked.timing.bars if checked and isinstance(checked.timing, Timing) else ()
        of = (one for one in bars if placed is not None and one.bar == placed.bar)
        return hit_line(hit, placed, rate, bar=next(of, None))

    def wave_rate(self) -> int:
        """Return frames a second of what is shown."""
        checked = self._checked()
        return checked.measures.facts.sample_rate if checked is not None else 1

    # ------------------------------------------------------------ walking

    def action_choose_up(self) -> None:
        """Go to the finding above."""
        self._choose(-1)

    def action_choose_down(self) -> None:
        """Go to the finding below."""
        self._choose(1)

    def action_page_up(self) -> None:
        """Go up by what is in sight."""
        self._choose(-self._rows)

    def action_page_down(self) -> None:
        """Go down by what is in sight."""
        self._choose(self._rows)

    def _choose(self, step: int) -> None:
        listed = self._items()
        self.desk.notice = ""
        if listed:
            step = 0 if self._hit is not None else step  # back from the hits to where the list was
            self._hit = None
            self._at = min(max(self._at + step, 0), len(listed) - 1)
            self._jump(listed[self._at].frame)
        self.draw()

    def action_walk_left(self) -> None:
        """Go to the hit before."""
        self._walk(-1)

    def action_walk_right(self) -> None:
        """Go to the next hit."""
        self._walk(1)

    def _walk(self, step: int) -> None:
        hits = self._hits()
        self.desk.notice = ""
        if not hits:
            return
        number = self._next(hits, step) if self._hit is None else self._hit + step
        self._hit = min(max(number, 0), len(hits) - 1)
        self._jump(round(hits[self._hit].frame))
        self.draw()

    def _next(self, hits: tuple[Hit, ...], step: int) -> int:
        """Return the hit before or behind where the cursor is."""
        frames, here = [one.frame for one in hits], self.wave.here
        return bisect_right(frames, here) if step > 0 else bisect_left(frames, here) - 1

    def _jump(self, frame: int | None) -> None:
        if frame is None:
            return
        if self._close:
            self.wave.look_at(frame, frames=round(CLOSE_S * self.wave_rate()))
        else:
            self.wave.point(frame)

    def action_enter(self) -> None:
        """Look at single hits, or at the whole part again."""
        self._close = not self._close
        if self._close:
            self.wave.look_at(self.wave.here, frames=round(CLOSE_S * self.wave_rate()))
        else:
            self.wave.whole()
        self.draw()

    # ------------------------------------------------------------ doing

    def action_grid(self) -> None:
        """Hold the hits against another grid."""
        checks = self.desk.model.checks
        first = asked_words(checks.asked(self.part))
        screen = NameScreen(ASKS, first=first, problem=grid_problem, named=self._held)
        self.desk.push_screen(screen)

    def _held(self, words: str) -> None:
        self.desk.model.checks.ask(self.part, read_grid(words))
        self.action_reread()

    def action_reread(self) -> None:
        """Check again."""
        asked = self.desk.model.checks.asked(self.part)
        self.desk.runner_look(CheckPart(part=self.part, asked=asked))

    def action_beside(self) -> None:
        """Lay the next DI of the song beside this one, or its backing track, or nothing any more."""
        chosen, beside = self.desk.model.chosen(), self._beside()
        if chosen is None:
            return
        song, part = chosen
        others = [one.name for one in song.parts if one.name != part.name]
        if song.backing is not None:
            others.append("")
        at = others.index(beside.other) + 1 if beside is not None and beside.other in others else 0
        if at < len(others):
            self._waits_for = others[at]
            self.desk.runner_look(CompareHits(part=part.name, other=others[at]))
        else:
            self.desk.model.checks.beside = self._waits_for = None
            self.desk.notice = "" if others else "the song has no other DI, and no backing track"
        self.draw()

    def action_next_part(self) -> None:
        """Take the next part."""
        self.desk.path_screen.action_next_part()
        self.show_part()

    def action_go(self) -> None:
        """Stop what sounds; a pass starts from the path."""
        if self.desk.model.busy or self.desk.model.countdown_s is not None:
            self.desk.control.go()

    def action_back(self) -> None:
        """Put a message away, or go back."""
        if self.desk.model.troubles:
            self.desk.put_away()
        else:
            self.desk.notice = ""
            self.desk.pop_screen()
            self.desk.changed()


def marks_of(checked: Checked) -> list[Mark]:
    """Return the hits of a DI, and where they should be."""
    rate, hits = checked.measures.facts.sample_rate, checked.measures.hits
    if not isinstance(checked.timing, Timing):
        return [Mark(one.frame) for one in hits]
    return [
        Mark(one.frame, None if at.stray else at.grid_s * rate, at.stray is None)
        for one, at in zip(hits, checked.timing.hits, strict=True)
    ]


def faults_of(checked: Checked) -> list[Mark]:
    """Return the places of what will be heard, or may be."""
    return [
        Mark(one.frame, fault=True)
        for one in checked.findings
        if one.frame is not None and one.weight != "good"
    ]


def marks_beside(found: Doubles, *, rate: int, shift: int) -> tuple[list[Mark], list[Mark]]:
    """Return the hits of a DI, with where the other recording's are, and the other's own.

    Parameters
    ----------
    found
        The one against the other.
    rate
        Frames a second.
    shift
        Frame of the DI at which the other recording begins.

    Returns
    -------
    tuple of list of Mark
        Each in frames of its own file, in order; what nothing answers does not count.
    """
    mine = [Mark(one.at_s * rate, one.other_s * rate) for one in found.pairs]
    mine += [Mark(one.at_s * rate, counts=False) for one in found.extra]
    theirs = [Mark(one.other_s * rate - shift) for one in found.pairs]
    theirs += [Mark(one.at_s * rate - shift, counts=False) for one in found.missing]
    return sorted(mine, key=_frame), sorted(theirs, key=_frame)


def _frame(one: Mark) -> float:
    return one.frame


def _called(beside: HitsCompared | None) -> str:
    return (beside.other or BACKING) if beside is not None else ""
