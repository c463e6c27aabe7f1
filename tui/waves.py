"""Outlines of the session's DIs: asked for once, kept, handed to the views."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from audio.jobs import news
from audio.jobs.orders import CloseUp, Outline
from audio.vocab.results import Outlines

if TYPE_CHECKING:
    from audio.grid.bars import BarGrid
    from tui.app import Desk
    from tui.screens.path import PathScreen
    from tui.widgets.waveform import Waveform


class Waves:
    """What is known of the waveforms.

    Parameters
    ----------
    desk
        The program.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._known: dict[str, news.Outlined] = {}
        self._asked: set[str] = set()
        self._shown: str | None = None

    def show(self, screen: PathScreen) -> None:
        """Show the chosen part's newest DI."""
        if not screen.is_mounted:
            return
        chosen = self._desk.model.chosen()
        if chosen is None:
            return
        revision = chosen[1].revisions[-1]
        if revision.file not in self._asked:
            self._asked.add(revision.file)
            self._desk.runner_look(Outline(path=revision.file, channel=revision.channel))
        if revision.file == self._shown:
            return
        self._show(screen.wave, revision.file)

    def take(self, one: news.Outlined | news.Closeup) -> None:
        """Keep an outline, or hand single samples on."""
        wave = self._desk.path_screen.wave
        if isinstance(one, news.Closeup):
            if one.path == self._shown:
                wave.closeup(one.at_frame, one.samples)
            return
        self._known[one.path] = one
        chosen = self._desk.model.chosen()
        if chosen is not None and chosen[1].revisions[-1].file == one.path:
            self._show(wave, one.path)

    def wanted(self, at_frame: int, frames: int) -> None:
        """Ask for single samples of what is shown."""
        chosen = self._desk.model.chosen()
        if chosen is not None and self._shown is not None:
            channel = chosen[1].revisions[-1].channel
            self._desk.runner_look(
                CloseUp(path=self._shown, channel=channel, at_frame=at_frame, frames=frames)
            )

    def ahead(self, path: str, *, trim_db: float) -> Callable[[float, float], float] | None:
        """Return how loud a DI is between two times, linear; None while it is not known."""
        from tui.present.waves import loudest  # noqa: PLC0415 - the first picture need not wait for it

        known = self._known.get(path)
        outlines = known.outlines if known else None
        if outlines is None:
            return None
        gain, rate, found = 10 ** (trim_db / 20), outlines.sample_rate, outlines

        def between(start_s: float, end_s: float) -> float:
            return gain * loudest(found, round(start_s * rate), round(end_s * rate))

        return between

    def _show(self, wave: Waveform, path: str) -> None:
        known = self._known.get(path)
        if known is None:
            self._shown = None
            wave.wait("reading the DI …")
            return
        self._shown = path
        if known.outlines is None:
            wave.wait(known.problem)
            return
        wave.show(known.outlines, self._bars(known.outlines))

    def _bars(self, outlines: Outlines) -> BarGrid | None:
        from audio.grid.bars import bar_grid  # noqa: PLC0415 - the first picture need not wait for it

        chosen, facts = self._desk.model.chosen(), self._desk.model.facts()
        if chosen is None:
            return None
        reference = facts.time_reference if facts is not None else 0
        return bar_grid(chosen[0], time_reference=reference, rate=outlines.sample_rate)
