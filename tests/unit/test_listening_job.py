"""What the engine is told while people listen: turned down at once, up once peaks are known again."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import log10
from typing import Any, cast

import pytest
from listening_cases import RATE, faders, now
from msgspec.structs import replace
from session_cases import WIRING

from audio.jobs.deck import Deck
from audio.jobs.listening import PIECE_S, Listening
from audio.jobs.news import ListeningStands, News
from audio.plan.listening import careful
from audio.vocab.listening import Flip, GoRound, SetBalance, SetUnder
from audio.vocab.matching import Matched, SoundLevel
from audio.vocab.messages import Span
from audio.vocab.requests import MatchSounds

CUT_DB = -2.0


@dataclass
class FakeDeck:
    """Keeps what it is told; its worker knows every sound to be alike."""

    wiring: Any = field(default_factory=lambda: replace(WIRING, listen_outputs=(1, 2)))
    gains: dict[tuple[int, int], float] = field(default_factory=dict)
    turned: list[tuple[tuple[int, int, float], ...]] = field(default_factory=list)
    spans: list[Span] = field(default_factory=list)
    asked: list[MatchSounds] = field(default_factory=list)
    stopping: bool = False

    @property
    def worker(self) -> FakeDeck:
        return self

    @property
    def listener(self) -> FakeDeck:
        return self

    def stop_asked(self) -> bool:
        return self.stopping

    def turn(self, gains: tuple[tuple[int, int, float], ...]) -> None:
        self.turned.append(gains)
        self.gains |= {(source, output): gain for source, output, gain in gains}

    def go_round(self, span: Span) -> None:
        self.spans.append(span)

    def match(self, asked: MatchSounds) -> Matched:
        self.asked.append(asked)
        one = SoundLevel(loudness_lufs=-20.0, peak_dbtp=-10.0, match_db=0.0)
        return Matched(
            sounds=(one,) * len(asked.sounds), cut_matched_db=CUT_DB, cut_plain_db=CUT_DB
        )


@pytest.fixture
def deck() -> FakeDeck:
    return FakeDeck()


def rolling(deck: FakeDeck, told: list[News] | None = None, **fields: Any) -> Listening:
    """Return what has begun to roll, measured, the first sound heard at the common cut alone."""
    one = Listening(cast("Deck", deck), now(**fields), (told if told is not None else []).append)
    one._begin()  # the engine says that it has started
    one._measure()
    return one


def db(gain: float) -> float:
    return 20.0 * log10(gain)


def test_it_begins_with_the_one_that_is_heard_and_nothing_else(deck: FakeDeck) -> None:
    rolling(deck, under=())
    assert {source for (source, _), gain in deck.gains.items() if gain} == {0, 1}
    assert {output for (_, output), gain in deck.gains.items() if gain} == {0, 1}


def test_a_flip_tells_what_changes_and_no_more(deck: FakeDeck) -> None:
    one = rolling(deck)
    one.steer(Flip(key="001"))
    assert {source for source, _, _ in deck.turned[-1]} == {0, 1, 2, 3}


def test_a_fader_goes_down_at_once_and_up_when_its_peaks_are_known(deck: FakeDeck) -> None:
    one = rolling(deck)
    one.steer(SetBalance(key="002", balance=faders(room=-12.0)))
    assert db(deck.gains[1, 0]) == pytest.approx(CUT_DB - 12.0)
    one._measure()
    one.steer(SetBalance(key="002", balance=faders(room=-3.0)))
    assert db(deck.gains[1, 0]) == pytest.approx(CUT_DB - 12.0), "it waits"
    one._measure()
    assert db(deck.gains[1, 0]) == pytest.approx(CUT_DB - 3.0)


def test_what_is_under_them_is_louder_when_its_peaks_are_known(deck: FakeDeck) -> None:
    one = rolling(deck)
    before = deck.gains[6, 0]
    one.steer(SetUnder(name="backing", db=0.0))
    assert deck.gains[6, 0] == before
    one._measure()
    assert db(deck.gains[6, 0]) == pytest.approx(CUT_DB)


def test_a_stretch_that_nobody_measured_is_turned_down_for_before_it_goes_round(
    deck: FakeDeck,
) -> None:
    one = rolling(deck)
    was = one.now
    one.steer(GoRound(span=Span(start=RATE, end=3 * RATE)))
    assert deck.spans == [Span(start=RATE, end=3 * RATE)]
    assert one.now.cut_matched_db == careful(was).cut_matched_db < CUT_DB
    assert db(deck.gains[0, 0]) == pytest.approx(careful(was).cut_matched_db)
    one._measure()
    assert db(deck.gains[0, 0]) == pytest.approx(CUT_DB)
    assert (deck.asked[-1].from_frame, deck.asked[-1].frames) == (RATE, 2 * RATE)


def test_once_it_is_measured_the_rest_of_the_part_is_read_piece_by_piece(deck: FakeDeck) -> None:
    one = rolling(deck, whole=3 * 20 * RATE, span=Span(start=0, end=RATE))
    deck.asked.clear()
    for _ in range(40):
        one._measure()
    piece = round(PIECE_S * RATE)
    read = {(asked.sounds[0][0].path, asked.from_frame) for asked in deck.asked}
    assert len(deck.asked) == len(read) == 4 * 3, "every sound once, and then it rests"
    assert {at for _, at in read} == {0, piece, 2 * piece}


def test_a_stop_ends_the_measuring(deck: FakeDeck) -> None:
    one = rolling(deck)
    one.steer(SetBalance(key="002", balance=faders(room=-12.0)))
    deck.asked.clear()
    deck.stopping = True
    one._measure()
    assert deck.asked == []
    assert not one.now.measured


def test_what_was_asked_meanwhile_is_not_settled_by_an_older_answer(deck: FakeDeck) -> None:
    one = rolling(deck)
    one.steer(SetBalance(key="002", balance=faders(room=-12.0)))
    match = deck.match

    def turned_meanwhile(asked: MatchSounds) -> Matched:
        if len(asked.sounds) > 1:
            one.steer(SetBalance(key="002", balance=faders(room=-20.0)))
        return match(asked)

    deck.match = turned_meanwhile  # type: ignore[method-assign]
    one._measure()
    assert not one.now.measured
    deck.match = match  # type: ignore[method-assign]
    one._measure()
    assert one.now.measured


def test_every_change_is_told(deck: FakeDeck) -> None:
    told: list[News] = []
    one = rolling(deck, told)
    one.steer(Flip(key="di"))
    assert told[-1] == ListeningStands(now=one.now)
    count = len(told)
    one.steer(Flip(key="di"))
    assert len(told) == count, "nothing has changed"
