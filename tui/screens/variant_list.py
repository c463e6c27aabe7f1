"""The list of variants on the path: the one under the cursor, and those that were discarded."""

from __future__ import annotations

from audio.plan.path import StageName
from audio.vocab.variant import Summary
from tui.screens import note_keys
from tui.screens.note_keys import NoteKeys

OF_WAVE = ("zoom_in", "zoom_out", "whole", "scroll_left", "scroll_right")
"""Actions that mean something at the DI alone."""

OF_CHAIN = ("note_values",)
"""Actions that mean something at the chain alone."""

OF_VARIANTS = (*note_keys.ACTIONS, "discarded", "join", "differ", "hand_over")
"""Actions that mean something at the variants alone."""


class VariantList(NoteKeys):
    """A view with a cursor on one of the chosen part's variants, where it stands at them."""

    here: StageName | None = None
    variant_at = 0

    def noted(self) -> Summary | None:
        """Return the variant under the cursor; None at any other stage."""
        found = self.desk.model.listed() if self.here == "variants" else ()
        return found[min(self.variant_at, len(found) - 1)] if found else None

    def at_variants(self) -> int:
        """Keep the cursor on the list and have the history of its variant read; return where it is."""
        self.variant_at = min(self.variant_at, max(len(self.desk.model.listed()) - 1, 0))
        self.want_history(self.noted())
        return self.variant_at

    def actions_here(self) -> tuple[str, ...]:
        """Return the actions of the stage under the cursor: those of others only fill the list of keys."""
        elsewhere = {*(OF_WAVE if self.here != "DI" else ())}
        elsewhere |= {*(OF_CHAIN if self.here != "chain" else ())}
        elsewhere |= {*(OF_VARIANTS if self.here != "variants" else ())}
        return tuple(name for name in self.ACTIONS if name not in elsewhere)

    def action_hand_over(self) -> None:
        """Show what would be handed over."""
        if self.here == "variants":
            self.desk.show_handover()

    def action_discarded(self) -> None:
        """Show the variants that were discarded, or hide them; the cursor stays on its variant."""
        model, was = self.desk.model, self.noted()
        if self.here != "variants":
            return
        model.notes.show_discarded = not model.notes.show_discarded
        numbers = [one.number for one in model.listed()]
        if was is not None and numbers:
            not_newer = (at for at, number in enumerate(numbers) if number <= was.number)
            self.variant_at = next(not_newer, len(numbers) - 1)
        self.desk.changed()
