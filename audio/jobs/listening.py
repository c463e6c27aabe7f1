"""Listening: sounds of one part roll together on the listen outputs, and a key flips to each.

All files play all the time, on one frame counter, so a flip is nothing but gains: the engine fades from one
block to the next. Nothing of it says `reaches_send`, so none of it can be sent. Loudness is measured beside
the roll, the sound that is heard first; until a sound is measured it plays at what its pass has left.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator

from msgspec.structs import replace

from audio.jobs import news
from audio.jobs.cue_sources import folded
from audio.jobs.deck import Deck
from audio.jobs.rolls import refuse_broken
from audio.jobs.telling import Tell
from audio.plan.listening import beneath, gains, layers, mix, settled, steered
from audio.vocab.errors import UseError
from audio.vocab.layers import Layer
from audio.vocab.listening import BACKING, GoRound, ListeningNow, Sound, Steer
from audio.vocab.matching import Matched
from audio.vocab.messages import Source
from audio.vocab.requests import MatchSounds

LONGEST_S = 24 * 3600.0
"""Listening that nobody stops ends by itself."""

PIECE_S = 20.0
"""What is measured at a time: under a second, even of many microphones."""


class Listening:
    """One roll of sounds.

    Parameters
    ----------
    deck
        An open stream; its worker measures loudness.
    now
        What rolls, and how it begins.
    tell
        Given how it stands whenever that changes.
    """

    def __init__(self, deck: Deck, now: ListeningNow, tell: Tell) -> None:
        self._deck = deck
        self._now = now
        self._tell = tell
        self._columns = tuple(_heard_at(now, deck.wiring.listen_outputs))
        self._sent: dict[tuple[int, int], float] = {}
        self._round = now.span
        """What the engine was told to go round."""
        self._begun = False
        self._safe = now
        """As it stood when its peaks were known: what was turned up since waits until they are again."""
        self._read_so_far: set[tuple[str, int]] = set()
        self._turning = threading.Lock()

    @property
    def now(self) -> ListeningNow:
        """How it stands; from any thread."""
        return self._now

    def run(self, *, between: Callable[[], None]) -> None:
        """Let them roll until somebody stops it.

        Parameters
        ----------
        between
            Called some twenty times a second, in this thread.

        Raises
        ------
        audio.vocab.errors.DeviceError
            If the device goes, or a file cannot be played any more.
        audio.vocab.errors.UseError
            If a file cannot be played.
        """
        now, rate = self._now, self._now.sample_rate
        self._round = now.span
        self._say()
        sources = tuple(
            _source(layer, outputs)
            for layer, outputs in zip(layers(now), self._columns, strict=True)
        )
        ended = self._deck.play(
            what="flip",
            length_frames=round(LONGEST_S * rate),
            sources=sources,
            loop=now.span,
            from_frame=now.span.start,
            meanwhile=self._measure,
            between=between,
            started=self._begin,
        )
        refuse_broken(ended, fault=self._deck.fault, what="what is listened to")

    def _begin(self) -> None:
        """Fade in: the stretch begins inside the files; another one may be wanted by now."""
        with self._turning:
            self._begun = True
            self._turn()
            self._go_round()

    def steer(self, asked: Steer) -> None:
        """Do what is asked at once, while it rolls; from any thread."""
        with self._turning:
            was, self._now = self._now, steered(self._now, asked)
            if self._now == was:
                return
            if isinstance(asked, GoRound):
                self._safe = self._now
            self._turn()
            self._go_round()
            self._say()

    def _say(self) -> None:
        """Tell how it stands, while nobody changes it: what is told last is how it is."""
        self._tell(news.ListeningStands(now=self._now))

    def _turn(self) -> None:
        """Have the engine fade to the gains as they should be now, or as far up as is known to be safe."""
        if not self._begun:
            return
        safe = replace(self._safe, heard=self._now.heard, matched=self._now.matched)
        turned = map(min, gains(self._now), gains(safe))
        wanted = {
            (source, output): gain * share
            for source, (gain, outputs) in enumerate(zip(turned, self._columns, strict=True))
            for output, share in outputs
        }
        changed = {key: gain for key, gain in wanted.items() if gain != self._sent.get(key, 0.0)}
        self._sent = wanted
        self._deck.turn(tuple((*key, gain) for key, gain in changed.items()))

    def _go_round(self) -> None:
        """Have the engine go round where it should now."""
        if self._begun and self._round != self._now.span:
            self._round = self._now.span
            self._deck.go_round(self._round)

    # ------------------------------------------------------------ loudness, in a thread beside the roll

    def _measure(self) -> None:
        """Measure what is not measured yet, in small pieces: a stop waits for one of them only."""
        now = self._now
        if now.measured:
            self._read_on(now)
            return
        try:
            for at, one in enumerate(_heard_first(now)):
                if not self._read(now, one):
                    return  # something else is wanted by now
                self._progress(now, at + 1)
            asked = _all_of(now)
            matched = self._deck.worker.match(asked)
        except UseError as error:
            self._settle(now, None, problem=str(error))
        else:
            self._settle(now, matched)

    def _read(self, now: ListeningNow, sound: Sound) -> bool:
        """Have the worker read a sound's stretch piece by piece; it remembers what it read."""
        piece = round(PIECE_S * now.sample_rate)
        for start in range(now.span.start, now.span.end, piece):
            if not self._wanted(now):
                return False
            self._read_piece(now, sound, start, min(piece, now.span.end - start))
        return True

    def _read_on(self, now: ListeningNow) -> None:
        """Have the worker read one piece more of what is not listened to now: so it is known when it is."""
        if now.problem:
            return
        piece = round(PIECE_S * now.sample_rate)
        for one in now.compared():
            for start in range(0, now.whole, piece):
                if (one.key, start) not in self._read_so_far:
                    self._read_so_far.add((one.key, start))
                    self._read_piece(now, one, start, min(piece, now.whole - start))
                    return

    def _read_piece(self, now: ListeningNow, one: Sound, start: int, frames: int) -> None:
        self._deck.worker.match(
            MatchSounds(
                sounds=(mix(now, one),),
                from_frame=start,
                frames=frames,
                sample_rate=now.sample_rate,
            )
        )

    def _wanted(self, now: ListeningNow) -> bool:
        """Return whether what is being measured is still what is listened to."""
        stopping = self._deck.listener.stop_asked()
        return not stopping and _all_of(self._now) == _all_of(now)

    def _progress(self, now: ListeningNow, count: int) -> None:
        with self._turning:
            if not self._wanted(now):
                return
            self._now = replace(self._now, read=count)
            self._say()

    def _settle(self, now: ListeningNow, matched: Matched | None, *, problem: str = "") -> None:
        with self._turning:
            if not self._wanted(now):
                return
            self._safe = self._now = settled(self._now, matched, problem=problem)
            self._turn()
            self._say()


def _heard_first(now: ListeningNow) -> list[Sound]:
    """Return what is compared, what is heard now first."""
    return sorted(now.compared(), key=lambda one: one.key != now.heard)


def _all_of(now: ListeningNow) -> MatchSounds:
    return MatchSounds(
        sounds=tuple(mix(now, one) for one in now.compared()),
        under=beneath(now.under),
        from_frame=now.span.start,
        frames=now.span.end - now.span.start,
        sample_rate=now.sample_rate,
    )


def _heard_at(
    now: ListeningNow, listen: tuple[int, ...]
) -> Iterator[tuple[tuple[int, float], ...]]:
    """Return for each layer on which outputs it is heard: (output from 0, share of its gain).

    A microphone is heard on all of them alike, a backing track's channels each on its own.
    """
    everywhere = tuple((number - 1, 1.0) for number in listen)
    for sound in now.sounds:
        yield from (everywhere for _ in sound.layers)
    for one in now.under:
        apart = one.name == BACKING
        columns = folded(len(one.layers), listen) if apart else ()
        yield from (columns[layer.channel] if apart else everywhere for layer in one.layers)


def _source(layer: Layer, outputs: tuple[tuple[int, float], ...]) -> Source:
    """Return what plays of a layer: nothing until it is turned up."""
    return Source(
        path=layer.path,
        channel=layer.channel,
        at_frame=layer.at_frame,
        gain_db=layer.gain_db,
        outputs=tuple((output, 0.0) for output, _ in outputs),
    )
