"""The stretch that goes round while people listen: chosen by bars or seconds, moved while it plays."""

from __future__ import annotations

from msgspec.structs import replace

from audio.jobs.sections import covered
from audio.vocab.errors import UseError
from audio.vocab.listening import GoRound
from audio.vocab.messages import Span
from audio.vocab.section import Section
from audio.vocab.section_text import parse_section, section_problem
from tui.screens.asking import NameScreen
from tui.screens.steer_keys import SteerKeys

ASKS = "Which bars or seconds go round? Such as: bars 5-8, or 12.5-18 s; empty is the whole part"


class StretchKeys(SteerKeys):
    """What `section`, `scroll_left` and `scroll_right` do while people listen."""

    _section: Section | None = None

    def _stretch(self) -> str:
        return f"{self._section}" if self._section is not None else "the whole part"

    def action_section(self) -> None:
        """Ask which bars go round."""
        if self.now() is None:
            return
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
        if self.now() is None:
            return
        if self._section is None:
            self.desk.notice = f"the whole part goes round; {self.key('section')} chooses bars"
            self.draw()
            return
        moved = _moved(self._section, step)
        if _begins_early(moved):
            self.desk.notice = f"no stretch so long lies before {self._section}"
            self.draw()
        else:
            self._go_round(moved)

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


def _begins_early(section: Section) -> bool:
    """Return whether a stretch begins before bar 1, or before the DI's first frame."""
    return (section.from_bar is not None and section.from_bar < 1) or (section.from_s or 0.0) < 0


def _moved(section: Section, step: int) -> Section:
    """Return the stretch of the same length before or behind another one."""
    if section.from_bar is not None and section.to_bar is not None:
        by = step * (section.to_bar - section.from_bar + 1)
        return replace(section, from_bar=section.from_bar + by, to_bar=section.to_bar + by)
    first, last = section.from_s or 0.0, section.to_s or 0.0
    by_s = step * (last - first)
    return replace(section, from_s=round(first + by_s, 3), to_s=round(last + by_s, 3))
