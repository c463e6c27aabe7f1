"""Looking at a session again and again: the folder is the truth, and nothing is read twice."""

from __future__ import annotations

import os
from pathlib import Path

import msgspec
import pytest
from session_cases import facts_of, noon, session_with_a_part, variant

from audio.session import layout, records
from audio.session.catalogue import Catalogue, Found
from audio.session.opened import Session
from audio.session.passes import claim
from audio.vocab.errors import UseError
from audio.vocab.variant import Summary, Variant


@pytest.fixture
def session(tmp_path: Path) -> Session:
    one = session_with_a_part(tmp_path)
    edit = tmp_path / "edit.wav"
    return one.add_part(source=edit, facts=facts_of(edit), name="hook")


def made(session: Session, part: str, **changes: object) -> Path:
    """Make a variant of a part; return its file."""
    one = claim(session, part, clock=noon)
    value = msgspec.structs.replace(variant(one.number, part=part), **changes)
    records.write_variant(one.folder, value)
    return layout.variant_json(one.folder)


def numbers(found: Found) -> list[tuple[str, int]]:
    return [(one.part, one.number) for one in found.variants]


def test_variants_broken_ones_and_passes_without_one_are_told_apart(session: Session) -> None:
    for part in ("rhythm-left", "hook", "hook"):
        made(session, part)
    made(session, "hook").write_bytes(b"{")
    undone = claim(session, "hook", clock=noon)
    seen = Catalogue().look(session)
    assert numbers(seen) == [("hook", 1), ("hook", 2), ("rhythm-left", 1)]
    assert [one.folder for one in seen.broken] == ["passes/hook/003"]
    assert "damaged" in seen.broken[0].reason
    assert seen.undone == (undone,)


def test_a_summary_says_what_the_variant_says(session: Session) -> None:
    path = made(session, "hook", verdict="look", state="stopped")
    (seen,) = Catalogue().look(session).variants
    whole = records.read_variant(path.parent)
    assert type(seen) is Summary
    for name in Summary.__struct_fields__:
        there = msgspec.to_builtins(getattr(whole, name))
        told = msgspec.to_builtins(getattr(seen, name))
        assert told == {"name": "fuzz"} if name == "chain" else told == there


def test_what_was_read_is_not_read_again(session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    for _ in range(3):
        made(session, "hook")
    read: list[Path] = []
    whole = records.read_summary
    monkeypatch.setattr(records, "read_summary", lambda one: read.append(one) or whole(one))
    catalogue = Catalogue()
    first = catalogue.look(session)
    assert len(read) == 3
    fourth = made(session, "hook")
    second = catalogue.look(session)
    assert read[3:] == [fourth.parent]
    assert second.variants[:3] == first.variants


def test_what_changes_on_disk_is_seen_at_the_next_look(session: Session) -> None:
    first, second = made(session, "hook"), made(session, "hook")
    catalogue = Catalogue()
    catalogue.look(session)
    first.write_bytes(b"{")
    second.unlink()
    seen = catalogue.look(session)
    assert [one.folder for one in seen.broken] == ["passes/hook/001"]
    assert [one.number for one in seen.undone] == [2]
    first.unlink()
    records.write_variant(first.parent, variant(1, part="hook"))
    assert numbers(catalogue.look(session)) == [("hook", 1)]


def test_a_copy_put_in_the_place_of_a_file_is_read_even_if_time_and_size_are_the_same(
    session: Session,
) -> None:
    path = made(session, "hook", verdict="good")
    catalogue = Catalogue()
    catalogue.look(session)
    seen = path.stat()
    copy = path.with_name("copy")
    copy.write_bytes(path.read_bytes().replace(b'"verdict": "good"', b'"verdict": "look"'))
    os.utime(copy, ns=(seen.st_atime_ns, seen.st_mtime_ns))
    copy.replace(path)
    assert [one.verdict for one in catalogue.look(session).variants] == ["look"]


def test_a_session_whose_passes_are_gone_has_none(session: Session) -> None:
    made(session, "hook")
    catalogue = Catalogue()
    catalogue.look(session)
    layout.passes(session.folder).rename(session.folder / "elsewhere")
    assert catalogue.look(session) == Found(variants=(), broken=(), undone=())


def test_a_variant_that_is_no_file_stands_apart(session: Session) -> None:
    path = made(session, "hook")
    path.unlink()
    path.mkdir()
    (seen,) = Catalogue().look(session).broken
    assert "variant.json cannot be read" in seen.reason


# ------------------------------------------------------------------ what a pass is judged beside


def through(session: Session, *chains: str) -> list[Path]:
    chained = [msgspec.structs.replace(variant().chain, name=chain) for chain in chains]
    return [made(session, "hook", chain=chain) for chain in chained]


def test_the_siblings_of_a_pass_are_those_of_its_part_and_chain(session: Session) -> None:
    through(session, "fuzz", "crunch", "fuzz", "fuzz into delay")
    made(session, "rhythm-left")
    seen = records.variants(session, "hook", chain="fuzz").found
    assert [(one.part, one.number) for one in seen] == [("hook", 1), ("hook", 3)]
    assert all(type(one) is Variant for one in seen)


def test_a_sibling_that_cannot_be_read_stands_apart_whatever_its_chain(session: Session) -> None:
    paths = through(session, "fuzz", "crunch")
    paths[1].write_bytes(b'{"chain": "fuzz"}')
    seen = records.variants(session, "hook", chain="fuzz")
    assert [one.number for one in seen.found] == [1]
    assert [one.folder for one in seen.broken] == ["passes/hook/002"]


def test_the_newest_variant_is_the_one_of_the_highest_number_that_can_be_read(
    session: Session,
) -> None:
    assert records.newest(session, "hook") is None
    paths = through(session, "fuzz", "crunch", "fuzz", "crunch")
    claim(session, "hook", clock=noon)
    assert _number(records.newest(session, "hook")) == 4
    assert _number(records.newest(session, "hook", chain="fuzz")) == 3
    assert _number(records.newest(session, "hook", chain="fuzz", before=3)) == 1
    assert records.newest(session, "hook", chain="crunch", before=2) is None
    paths[3].write_bytes(b"{")
    assert _number(records.newest(session, "hook")) == 3


def _number(one: Variant | None) -> int | None:
    return one.number if one else None


@pytest.mark.parametrize("read", [records.read_variant, records.read_summary, records.read_order])
def test_brackets_without_end_are_a_damaged_file(session: Session, read: object) -> None:
    path = made(session, "hook")
    for one in (path, layout.order_json(path.parent)):
        one.write_bytes(b'{"findings": ' + b"[" * 200_000)
    with pytest.raises(UseError, match=r"json is damaged .*restore it from a copy"):
        read(path.parent)  # type: ignore[operator]


def test_a_newer_format_is_refused_even_where_every_field_reads(session: Session) -> None:
    path = made(session, "hook")
    path.write_bytes(path.read_bytes().replace(b'"format": 1', b'"format": 2'))
    for read in (records.read_variant, records.read_summary):
        with pytest.raises(UseError, match="newer program; update this one"):
            read(path.parent)
