"""A stretch of a part instead of the whole: asked for, and its variant dropped into a whole one."""

from __future__ import annotations

from functools import partial

from audio.jobs.orders import DropIn
from audio.vocab.section_text import parse_section, section_problem
from audio.vocab.variant import Summary
from tui.screens.asking import NameScreen
from tui.screens.variant_list import VariantList

ASKS = "Which bars or seconds? Such as: bars 5-8, or 12.5-18 s; empty is the whole part"


class SectionKeys(VariantList):
    """What the keys `section` and `join` do on the path."""

    def action_section(self) -> None:
        """Ask for the stretch that is played next."""
        model = self.desk.model
        if model.part is None or model.doing == "pass":
            return
        section = model.section()
        first = f"{section}" if section else ""
        screen = NameScreen(ASKS, first=first, problem=self._no_section, named=self._take_section)
        self.desk.push_screen(screen)

    def _no_section(self, typed: str) -> str | None:
        if not typed:
            return None
        model = self.desk.model
        return section_problem(typed) or model.no_section(parse_section(typed), model.part or "")

    def _take_section(self, typed: str) -> None:
        self.desk.model.take_section(parse_section(typed) if typed else None)
        self.desk.changed()

    def action_join(self) -> None:
        """Drop the variant under the cursor into a whole one; ask into which."""
        one = self.noted()
        if one is None or self.desk.model.busy:
            return
        if one.covers is None:
            self.desk.notice = "only a variant of a section can be dropped into another one"
            self.desk.changed()
            return
        wholes = self._wholes()
        offered = next((w for w in wholes if w.chain.name == one.chain.name), None)
        if not wholes:
            self.desk.notice = "there is no variant of the whole part yet to drop it into"
            self.desk.changed()
            return
        screen = NameScreen(
            f"{one.number:03d} is of {one.covers.text}. Drop it into which variant?",
            first=f"{(offered or wholes[0]).number}",
            problem=partial(_no_whole, wholes),
            named=partial(self._drop_in, one),
        )
        self.desk.push_screen(screen)

    def _wholes(self) -> list[Summary]:
        model = self.desk.model
        return [
            one
            for one in model.variants()
            if one.covers is None and not model.notes.of(one.part, one.number).discarded
        ]

    def _drop_in(self, one: Summary, typed: str) -> None:
        asked = DropIn(part=one.part, base=int(typed), section=one.number)
        self.desk.ask(asked, "session")


def _no_whole(wholes: list[Summary], typed: str) -> str | None:
    numbers = [one.number for one in wholes]
    if typed.isascii() and typed.isdigit() and len(typed) < 10 and int(typed) in numbers:
        return None
    shown = ", ".join(f"{number}" for number in numbers[:12])
    return f"{typed or 'nothing'} is no variant of the whole part; there are: {shown}"
