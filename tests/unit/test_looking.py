"""Questions that change nothing: a variant is told with the one before it, ahead of what takes longer."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from queue import SimpleQueue

import msgspec
import pytest
from session_cases import noon, session_with_a_part, variant

from audio.jobs import looking, news
from audio.jobs.looking import Looking
from audio.jobs.news import News
from audio.jobs.orders import LookAtHistory, LookAtVariant, LookForDevices
from audio.session import layout, records
from audio.session.opened import Session
from audio.session.passes import claim
from audio.vocab.devices import DeviceList

LIMIT_S = 10.0


@pytest.fixture
def session(tmp_path: Path) -> Session:
    """Return a session of four variants, the second through another chain."""
    one = session_with_a_part(tmp_path)
    for chain in ("fuzz", "crunch", "fuzz", "fuzz"):
        taken = claim(one, "rhythm-left", clock=noon)
        chained = msgspec.structs.replace(variant().chain, name=chain)
        made = msgspec.structs.replace(variant(taken.number), chain=chained)
        records.write_variant(taken.folder, made)
    return one


@pytest.fixture
def told(session: Session, monkeypatch: pytest.MonkeyPatch) -> Iterator[SimpleQueue[News]]:
    """Yield what is told once three questions were asked while nobody answered yet."""
    heard: SimpleQueue[News] = SimpleQueue()
    monkeypatch.setattr(looking, "list_devices", DeviceList)
    eye = Looking(lambda: session)
    for one in (LookForDevices(), *(LookAtVariant(part="rhythm-left", number=n) for n in (3, 9))):
        eye.ask(one)
    eye.start(heard.put)
    yield heard
    eye.close()


def test_a_variant_comes_whole_with_the_one_before_it_through_its_chain(
    session: Session, told: SimpleQueue[News]
) -> None:
    one = told.get(timeout=LIMIT_S)
    assert isinstance(one, news.VariantRead)
    assert one.variant == records.read_variant(layout.pass_folder(session.folder, one.part, 3))
    assert one.earlier is not None
    assert (one.earlier.number, one.earlier.chain.name) == (1, "fuzz")


def test_variants_do_not_wait_for_questions_that_take_longer(told: SimpleQueue[News]) -> None:
    kinds = [type(told.get(timeout=LIMIT_S)) for _ in range(3)]
    assert kinds == [news.VariantRead, news.VariantRead, news.Devices]


def test_a_variant_that_is_not_there_is_one_sentence(told: SimpleQueue[News]) -> None:
    told.get(timeout=LIMIT_S)
    one = told.get(timeout=LIMIT_S)
    assert isinstance(one, news.VariantRead)
    assert (one.number, one.variant, one.earlier) == (9, None, None)
    assert "variant.json cannot be read: No such file or directory; put it back" in one.problem


def test_a_history_is_told_and_what_keeps_it_from_being_read_is_one_sentence(
    session: Session,
) -> None:
    heard: SimpleQueue[News] = SimpleQueue()
    eye, asked = Looking(lambda: session), LookAtHistory(part="rhythm-left", number=3)
    eye.start(heard.put)
    try:
        eye.ask(asked)
        told = heard.get(timeout=LIMIT_S)
        assert isinstance(told, news.HistoryRead)
        assert [one.text for one in told.happened] == ["its number was claimed"]
        layout.journal(session.folder).unlink()
        layout.journal(session.folder).mkdir()
        eye.ask(asked)
        told = heard.get(timeout=LIMIT_S)
        assert isinstance(told, news.HistoryRead)
        assert not told.happened
        assert "journal.jsonl" in told.problem
    finally:
        eye.close()
