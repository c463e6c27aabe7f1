"""The keys of a waveform, for the view that shows one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from tui.widgets.waveform import Waveform


class HasWave(Protocol):
    """A view with a waveform."""

    @property
    def wave(self) -> Waveform:
        """The waveform."""


class WaveKeys:
    """Looks closer, wider, earlier, later."""

    def action_zoom_in(self: HasWave) -> None:
        """Look closer."""
        self.wave.zoom(1)

    def action_zoom_out(self: HasWave) -> None:
        """See more."""
        self.wave.zoom(-1)

    def action_whole(self: HasWave) -> None:
        """See the whole part."""
        self.wave.whole()

    def action_scroll_left(self: HasWave) -> None:
        """Move the view back."""
        self.wave.scroll(-1)

    def action_scroll_right(self: HasWave) -> None:
        """Move the view on."""
        self.wave.scroll(1)
