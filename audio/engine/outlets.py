"""Where the stream's outputs lead, and which source may reach which of them.

The engine is told at `Open`, by the wiring, which outputs lead to the amp and which to people's ears.
A source reaches the amp only where its roll says so of that very source, and no source reaches an output
that the wiring does not name.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self

import numpy as np

from audio.engine.mix import Allowed, Gains
from audio.vocab.errors import UseError
from audio.vocab.messages import Gain, Source
from audio.vocab.wiring import Wiring


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlets:
    """Outputs in use, from 0."""

    amp: frozenset[int]
    """The send, and the loop cable that proves what the send carried."""
    ears: frozenset[int]
    """Where people listen; one that also leads to the amp counts as the amp's."""

    @classmethod
    def of(cls, wiring: Wiring) -> Self:
        """Return the outlets of a wiring."""
        amp = {wiring.send_output} | ({wiring.loop.output} if wiring.loop else set())
        return cls(
            amp=frozenset(number - 1 for number in amp),
            ears=frozenset(number - 1 for number in wiring.listen_outputs),
        )

    def allowed(self, sources: tuple[Source, ...], *, outputs: int) -> Allowed:
        """Return which source may reach which output; one row at least.

        Parameters
        ----------
        sources
            Of a roll.
        outputs
            How many the stream has.

        Returns
        -------
        Allowed
            False wherever nobody said that it may.
        """
        table = np.zeros((max(1, len(sources)), outputs), dtype=np.bool_)
        for row, source in enumerate(sources):
            reached = self.amp | self.ears if source.reaches_send else self.ears - self.amp
            table[row, [output for output in reached if output < outputs]] = True
        return table

    def first_gains(self, sources: tuple[Source, ...], *, outputs: int) -> Gains:
        """Return the gains a roll starts with; `UseError` if one of them may not be.

        Parameters
        ----------
        sources
            Of a roll.
        outputs
            How many the stream has; every output that is named exists.

        Returns
        -------
        Gains
            One row at least.
        """
        allowed = self.allowed(sources, outputs=outputs)
        gains = np.zeros(allowed.shape, dtype=np.float32)
        for row, source in enumerate(sources):
            for output, value in source.outputs:
                self._check(allowed, row, output, value)
                gains[row, output] = value
        return gains

    def changed(self, gains: Gains, change: Gain, *, allowed: Allowed) -> Gains:
        """Return the gains after a change; `UseError` if one of them may not be.

        Parameters
        ----------
        gains
            Before it; left as they are.
        change
            As commanded.
        allowed
            The roll's.

        Returns
        -------
        Gains
            What is not named stays.
        """
        target = gains.copy()
        for row, output, value in change.gains:
            if not (0 <= row < target.shape[0] and 0 <= output < target.shape[1]):
                raise UseError(f"source {row + 1} or output {output + 1} is not in this roll")
            self._check(allowed, row, output, value)
            target[row, output] = value
        return target

    def _check(self, allowed: Allowed, row: int, output: int, value: float) -> None:
        if not 0.0 <= value <= 1.0:  # NaN is not either
            raise UseError(f"a gain of {value:g} was asked for; gains go from 0 to 1")
        if value == 0.0 or allowed[row, output]:
            return
        if output not in self.amp:
            raise UseError(
                f"output {output + 1} is not in the wiring and carries nothing; name it there first"
            )
        raise UseError(
            f"source {row + 1} may not reach output {output + 1}, which leads to the amp; only the DI,"
            " the click and the set-up tone may"
        )
