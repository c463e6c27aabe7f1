"""The keys of a waveform, for the view that shows one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from tui.app import Desk
    from tui.widgets.waveform import Waveform


class HasWave(Protocol):
    """A view with a waveform."""

    @property
    def wave(self) -> Waveform:
        """The waveform."""

    @property
    def is_mounted(self) -> bool:
        """Whether the view is made."""

    @property
    def desk(self) -> Desk:
        """The program."""


class WaveKeys:
    """Looks closer, wider, earlier, later; fetches what a close look needs."""

    def on_waveform_wanted(self: HasWave, message: Waveform.Wanted) -> None:
        """Fetch the single samples that the waveform has come close to."""
        self.desk.waves.wanted(message.at_frame, message.frames, beside=message.beside)

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
