"""Note values at the song's tempo: what a delay or a tremolo is set to."""

from __future__ import annotations

from rich.text import Text
from textual.app import ComposeResult

from audio.jobs.times import times
from audio.vocab.errors import UseError
from tui.present.glyphs import cut
from tui.present.looks import FAINT, STRONG, paragraph, text
from tui.present.tempo import bpm_words, changing, first_bar_words
from tui.present.times import times_lines
from tui.screens.face import Face, bindings
from tui.tempi import chosen_bpm
from tui.widgets.lines import Lines


class TimesScreen(Face):
    """A table to read; nothing can be changed here."""

    ACTIONS = ("back", "note_values", "enter", "stop", "keys")
    BINDINGS = bindings(*ACTIONS)
    DEFAULT_CSS = """
    TimesScreen { layout: vertical; }
    TimesScreen #table { height: 1fr; }
    TimesScreen #foot { height: 2; }
    """

    def body(self) -> ComposeResult:
        """Make the view."""
        yield Lines(id="table")
        yield Lines(id="foot")

    def draw_body(self) -> None:
        """Draw the table, or say what is missing for one."""
        self.lines("table").put(self._told(self.size.width))
        foot = text((f" {self.key('back')}", STRONG), (" back", FAINT))
        self.lines("foot").put(self.foot(foot))

    def _told(self, columns: int) -> list[Text]:
        chosen = self.desk.model.chosen()
        if chosen is None:
            return paragraph("No part is chosen, so there is no tempo to tell times by.", columns)
        song, part = chosen
        tempo, bpm = self.desk.model.tempo(song), chosen_bpm(self.desk.model)
        if tempo.problem:
            return paragraph(tempo.problem, columns)
        if bpm is None:
            words = f"{song.name} has no tempo; write bpm: under it in session.yaml."
            return paragraph(words, columns)
        head = cut(f" {song.name}: {bpm_words(bpm)} quarter notes a minute", columns)
        try:
            rows = times_lines(times(bpm), columns=columns - 2)
        except UseError as error:
            return paragraph(f"{error}", columns)
        changes = paragraph(f" {first_bar_words(part.name)}", columns) if changing(tempo) else []
        return [text((head, STRONG)), *changes, text(), *(text(f" {row}") for row in rows)]

    def action_back(self) -> None:
        """Go back."""
        self.desk.pop_screen()

    def action_note_values(self) -> None:
        """Go back: the same key that brought it."""
        self.action_back()

    def action_enter(self) -> None:
        """Go back."""
        self.action_back()
