"""Names that must survive as pieces of file names."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.vocab.names import LONGEST_NAME_BYTES, name_problem, shortened, slug, twin_key


@pytest.mark.parametrize(
    "name", ["rhythm-left", "hook 2", "Gitarre_links", "é", "左", "a.b", "10", "con-rod"]
)
def test_ordinary_names_pass(name: str) -> None:
    assert name_problem(name) is None


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("", "empty"),
        ("  ", "empty"),
        (".", "dot"),
        ("..", "dot"),
        (".hidden", "dot"),
        ("-rf", "dash"),
        ("~", "dot, dash"),
        ("ends.", "dot"),
        ("ends ", "space"),
        ("a/b", "dash"),
        ("../../etc", "dash"),
        ("a\\b", "dash"),
        ("C:x", "dash"),
        ("what?", "dash"),
        ("a\0b", "hidden"),
        ("a\nb", "hidden"),
        ("a\x1b[2J", "hidden"),
        ("a\u202eb", "hidden"),
        ("a\u200bb", "hidden"),
        ("\ud800", "hidden"),
        # Microsoft, "Naming Files, Paths, and Namespaces": with and without an ending (from memory).
        ("con", "Windows"),
        ("AUX", "Windows"),
        ("Nul.txt", "Windows"),
        ("com1", "Windows"),
        ("lpt9.wav", "Windows"),
        ("é" * 41, "bytes"),
        ("x" * 81, "bytes"),
    ],
)
def test_hostile_names_are_refused_with_the_reason(name: str, says: str) -> None:
    problem = name_problem(name)
    assert problem is not None
    assert says in problem
    assert "; " in problem


@pytest.mark.parametrize(
    ("one", "other"),
    [("Hook", "hook"), ("caf\u00e9", "cafe\u0301"), ("STRASSE", "straße"), ("İ", "i\u0307")],
)
def test_names_that_some_disk_takes_for_one_are_twins(one: str, other: str) -> None:
    assert twin_key(one) == twin_key(other)


@given(st.text(max_size=40))
def test_a_twin_key_does_not_depend_on_how_accents_are_written(name: str) -> None:
    decomposed = unicodedata.normalize("NFD", name)
    assert twin_key(decomposed) == twin_key(unicodedata.normalize("NFC", name))


@pytest.mark.parametrize(
    ("name", "piece"),
    [
        ("Fuzz into Delay", "fuzz-into-delay"),
        ("  fuzz -> delay!! ", "fuzz-delay"),
        ("../../etc", "etc"),
        ("Übersteuert", "übersteuert"),
        ("U\u0308ber", "über"),
        ("!!!", "unnamed"),
        ("", "unnamed"),
    ],
)
def test_a_slug_is_small_letters_digits_and_single_dashes(name: str, piece: str) -> None:
    assert slug(name) == piece


@given(st.text(max_size=60))
def test_a_slug_is_always_a_safe_piece_that_no_longer_changes(name: str) -> None:
    piece = slug(name)
    assert slug(piece) == piece
    assert not set(piece) & set('_ ./\\:*?"<>|\0\n')
    assert not piece.startswith("-")


@given(st.text(st.characters(categories=["L", "N"]), min_size=1, max_size=90), st.integers(20, 60))
def test_what_is_shortened_fits_and_stays_text(piece: str, limit: int) -> None:
    short = shortened(piece, longest_bytes=limit)
    assert len(short.encode()) <= max(limit, 7)
    if len(piece.encode()) <= limit:
        assert short == piece


def test_long_names_that_begin_alike_stay_apart() -> None:
    one, other = (shortened("x" * 90 + end, longest_bytes=40) for end in "ab")
    assert one != other
    assert len(one) == 40
    assert LONGEST_NAME_BYTES == 80
