"""Names of files that leave the building: from a pattern, and whatever people call things."""

from __future__ import annotations

import re
from pathlib import PurePosixPath

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.plan.file_names import FIELDS, file_name, pattern_problem, plain_name, told_apart
from audio.vocab.errors import UseError
from audio.vocab.handover import NAMES
from audio.vocab.names import is_inside, twin_key

VALUES = {
    "session": "harbour lights",
    "song": "Last Ferry",
    "part": "rhythm-left",
    "number": "007",
    "chain": "fuzz into delay",
    "called": "the one",
    "microphone": "close",
}

HOSTILE = (
    "../../etc/passwd",
    "a/b\\c",
    "CON",
    "aux",
    "=1+1",
    "<b>[/]",
    "שלום",
    "\u202eevil",
    "é" * 300,
    "…",
    " . ",
    "x:y?*|",
)


def test_the_usual_pattern_makes_a_folder_of_the_song_and_tells_everything_else() -> None:
    name = file_name(NAMES, VALUES)
    assert name == "last-ferry/rhythm-left_007_fuzz-into-delay_close"


@pytest.mark.parametrize("hostile", HOSTILE)
def test_no_value_leaves_its_place_or_makes_a_folder(hostile: str) -> None:
    for field in FIELDS:
        name = file_name(f"top/{{{field}}}_x", VALUES | {field: hostile})
        assert is_inside(name)
        assert name.count("/") == 1
        assert name.startswith("top/")


@given(st.text(min_size=1))
def test_whatever_something_is_called_its_file_can_be_made_anywhere(value: str) -> None:
    name = file_name("{part}/{chain}", VALUES | {"part": value, "chain": value})
    first, second = PurePosixPath(name).parts
    for piece in (first, second):
        # Microsoft, "Naming Files, Paths, and Namespaces", from memory: what no name on Windows may hold
        assert not re.search(r'[<>:"/\\|?*\x00-\x1f]', piece)
        assert not piece.endswith((".", " "))
        assert not re.fullmatch(r"(?i)(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", piece)
        assert len(piece.encode()) <= 200


@pytest.mark.parametrize(
    ("pattern", "says"),
    [
        ("", "empty"),
        ("   ", "empty"),
        ("{take}", "which is nothing; there are: session, song, part"),
        ("{part", "brace"),
        ("part}", "brace"),
        ("/{part}", "slash"),
        ("{song}//{part}", "slash"),
        ("{part}/", "slash"),
        ("../{part}", "begins or ends with a dot"),
        ("{song}/..", "begins or ends with a dot"),
        ("{part}:{number}", "use a dash"),
        ("C:\\{part}", "use a dash"),
        ("aux/{part}", "Windows"),
        ("{part}\u202e", "hidden"),
        ("x" * 201, "longer"),
    ],
)
def test_a_pattern_that_cannot_be_is_told_with_the_way_out(pattern: str, says: str) -> None:
    assert says in (pattern_problem(pattern) or "")


@pytest.mark.parametrize(
    "pattern", [NAMES, "{called} {number} {microphone}", "{session}/{song}/{part}.{number}"]
)
def test_patterns_people_write_can_be(pattern: str) -> None:
    assert pattern_problem(pattern) is None


def test_two_files_of_one_name_are_refused_where_the_pattern_leaves_out_what_tells_them_apart() -> (
    None
):
    with pytest.raises(
        UseError, match=r"names two files 'x/hook'; put \{number\} and \{microphone\}"
    ):
        told_apart(["x/hook", "x/hook"], pattern="x/{part}")


def test_names_that_a_disk_takes_for_one_get_a_number_where_nothing_is_left_out() -> None:
    names = told_apart(["Hook_1", "hook_1", "other", "hook_1"], pattern=NAMES)
    assert names == ("Hook_1", "hook_1-2", "other", "hook_1-3")
    assert len({twin_key(one) for one in names}) == 4


def test_what_needs_no_pattern_is_named_in_words() -> None:
    assert plain_name("Rhythm Left", "original", "close/../") == "rhythm-left_original_close"
