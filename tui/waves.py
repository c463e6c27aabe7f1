"""Outlines of the session's DIs: asked for once, kept, handed to the views."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from audio.jobs import news
from audio.jobs.orders import CloseUp, Outline
from audio.vocab.session_file import Revision

if TYPE_CHECKING:
    from tui.app import Desk
    from tui.screens.wave_keys import HasWave


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
        self._view: HasWave | None = None
        self._beside: tuple[Revision, int] | None = None

    def show(self, view: HasWave) -> None:
        """Show the chosen part's newest DI on a view, and nothing beside it."""
        self._view, self._beside = view, None
        self._draw()

    def show_beside(self, revision: Revision | None, *, shift: int = 0) -> None:
        """Show another DI under the one that is shown, or none any more.

        Parameters
        ----------
        revision
            The other part's; None for none.
        shift
            Frame of the first at which its first frame lies.
        """
        beside = None if revision is None else (revision, shift)
        if beside != self._beside:
            self._beside = beside
            self._draw()

    def take(self, one: news.Outlined | news.Closeup) -> None:
        """Keep an outline, or hand single samples on."""
        if isinstance(one, news.Outlined):
            self._known[one.path] = one
            self._draw()
            return
        main = self._main()
        if self._view is None or main is None:
            return
        if one.path == main.file:
            self._view.wave.closeup(one.at_frame, one.samples)
        if self._beside is not None and one.path == self._beside[0].file:
            self._view.wave.closeup(one.at_frame, one.samples, beside=True)

    def wanted(self, at_frame: int, frames: int, *, beside: bool) -> None:
        """Ask for single samples of what is shown."""
        other = self._beside[0] if self._beside is not None else None
        revision = other if beside else self._main()
        if revision is not None:
            self._desk.runner_look(
                CloseUp(
                    path=revision.file,
                    channel=revision.channel,
                    at_frame=at_frame,
                    frames=frames,
                )
            )

    def _main(self) -> Revision | None:
        chosen = self._desk.model.chosen()
        return chosen[1].revisions[-1] if chosen is not None else None

    def _draw(self) -> None:
        main, view = self._main(), self._view
        if view is None or main is None or not view.is_mounted:
            return
        known = self._outline_of(main)
        if known is None or known.outlines is None:
            view.wave.wait("reading the DI …" if known is None else known.problem)
            return
        from tui.tempi import chosen_grid  # noqa: PLC0415 - the first picture need not wait for it

        bars = chosen_grid(self._desk.model, rate=known.outlines.sample_rate)
        view.wave.show(known.outlines, bars)
        other = self._outline_of(self._beside[0]) if self._beside is not None else None
        shift = self._beside[1] if self._beside is not None else 0
        view.wave.show_beside(other.outlines if other is not None else None, shift=shift)

    def _outline_of(self, revision: Revision) -> news.Outlined | None:
        """Return what is known of a file, and ask for it once."""
        if revision.file not in self._asked:
            self._asked.add(revision.file)
            self._desk.runner_look(Outline(path=revision.file, channel=revision.channel))
        return self._known.get(revision.file)

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
