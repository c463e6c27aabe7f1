"""A choice text comes through a mail as it was written, or is refused in one sentence."""

from __future__ import annotations

import re
import time
import zlib
from collections.abc import Callable
from unicodedata import normalize

import pytest
from choice_cases import NAME, TOKEN, choice_text, quoted, sealed, smart, spaced, wrapped
from hypothesis import given, settings
from hypothesis import strategies as st

from audio.vocab.choice import ChoiceText, remark_problem
from audio.vocab.choice_text import LONGEST_TEXT, Found, checksum_of, read_choices
from audio.vocab.names import name_problem

KNOWN = {"rhythm-left": ("original:close", "original:room"), "hook": ()}

PLAIN = choice_text(
    {"rhythm-left": ("002", "original:close"), "hook": ()},
    words={"rhythm-left": "more bite, and the tail is right"},
)


def found(text: str, known: dict[str, tuple[str, ...]] = KNOWN) -> list[Found]:
    return list(read_choices(text, known))


def read(text: str, known: dict[str, tuple[str, ...]] = KNOWN) -> ChoiceText:
    (one,) = found(text, known)
    assert one.choice is not None, one.problem
    return one.choice


def refused(text: str) -> str:
    (one,) = found(text)
    assert one.choice is None
    assert "\n" not in one.problem
    return one.problem


def unturned(text: str) -> str:
    """Return words whatever quotation marks they have."""
    return text.replace("“", '"').replace("”", '"').replace("’", "'").replace("…", "...")


# ------------------------------------------------------------------ read


def test_a_choice_is_read_as_the_page_wrote_it() -> None:
    assert read(PLAIN) == ChoiceText(
        name=NAME,
        token=TOKEN,
        listener="Ana",
        blind=True,
        chosen={"rhythm-left": ("002", "original:close"), "hook": ()},
        words={"rhythm-left": "more bite, and the tail is right"},
        checksum=PLAIN.split()[-1],
    )


def test_the_checksum_is_crc_32() -> None:
    """Check value of CRC-32 as the catalogue of parametrised CRC algorithms has it, from memory."""
    assert checksum_of("123456789") == "cbf43926"
    assert checksum_of("1 2,3-4\n> 5“6”7\t8 9") == "cbf43926"


@given(st.text(st.characters(categories=("L", "N"), max_codepoint=0x4FF), max_size=50))
def test_the_checksum_is_zlibs_of_letters_and_digits(text: str) -> None:
    assert checksum_of(text) == f"{zlib.crc32(normalize('NFC', text).encode()):08x}"


def test_of_any_text_letters_and_digits_are_kept_composed_and_nothing_else() -> None:
    assert (
        checksum_of("by: Ame\u0301lie ²\n— Ⅷ 東京 🎸")
        == f"{zlib.crc32('byAmélie²Ⅷ東京'.encode()):08x}"
    )


WAYS: dict[str, Callable[[str], str]] = {
    "as it is": str,
    "quoted": quoted,
    "quoted twice": lambda text: quoted(quoted(text), ">"),
    "quoted with bars": lambda text: quoted(text, " | "),
    "wrapped": wrapped,
    "wrapped narrow": lambda text: wrapped(text, 40),
    "wrapped, then quoted": lambda text: quoted(wrapped(text)),
    "quoted, then wrapped": lambda text: wrapped(quoted(text)),
    "CRLF": lambda text: text.replace("\n", "\r\n"),
    "CR": lambda text: text.replace("\n", "\r"),
    "smart": smart,
    "spaced": spaced,
    "BOM": lambda text: f"\ufeff{text}",
    "blank lines": lambda text: text.replace("\n", "\n\n \n"),
    "indented": lambda text: quoted(text, "\t  "),
    "greeted": lambda text: f"Hi, here it is: by: me\n\n{text}-- \nAna\nend of choice\nhook: 3\n",
    "all of it": lambda text: f"\ufeffHi,\r\n{spaced(smart(quoted(wrapped(text))))}\r\nbye",
}


@pytest.mark.parametrize("way", WAYS)
def test_what_a_mail_does_to_a_text_harms_nothing(way: str) -> None:
    words = 'it\'s "mine": more bite... ' + "and the tail, " * 11 + "hook: yes"
    text = choice_text(
        {"rhythm-left": ("002", "original:close"), "hook": ("004", "001")},
        words={"rhythm-left": words, "hook": "blind: no\N{LATIN SMALL LETTER E WITH ACUTE}"},
    )
    as_read, mangled = read(text), read(WAYS[way](text))
    assert {part: unturned(said) for part, said in mangled.words.items()} == as_read.words
    assert mangled.chosen == as_read.chosen
    assert mangled.checksum == as_read.checksum
    assert as_read.words["rhythm-left"] == words.strip()


NAMES = st.text(
    st.characters(categories=("L", "N", "P", "Zs"), max_codepoint=0x2FF), min_size=1, max_size=30
).filter(lambda name: name_problem(name) is None and " ".join(name.split()) == name)
WORDS = st.text(st.characters(categories=("L", "N", "P", "S")), min_size=1, max_size=12)
SOUNDS = st.lists(st.integers(1, 2000).map("{:03d}".format), max_size=5, unique=True)


@settings(max_examples=40)
@given(
    chosen=st.dictionaries(NAMES, SOUNDS, min_size=1, max_size=4),
    said=st.lists(st.lists(WORDS, min_size=1, max_size=12).map(" ".join), max_size=4),
    listener=NAMES,
    ways=st.lists(
        st.sampled_from([quoted, wrapped, spaced, WAYS["CRLF"], WAYS["greeted"]]), max_size=3
    ),
)
def test_whatever_was_chosen_comes_through_a_mail(chosen, said, listener, ways) -> None:
    chosen = {normalize("NFC", part): tuple(keys) for part, keys in chosen.items()}
    words = dict(zip(chosen, (normalize("NFC", one) for one in said), strict=False))
    words = {part: one for part, one in words.items() if _is_only_words(one)}
    text = choice_text(chosen, listener=normalize("NFC", listener), words=words)
    for way in ways:
        text = way(text)
    one = read(text, dict.fromkeys(chosen, ()))
    assert one.chosen == chosen
    assert one.words.keys() == words.keys()
    assert checksum_of("".join(one.words.values())) == checksum_of("".join(words.values()))


def _is_only_words(text: str) -> bool:
    """Return whether a remark can be, and no line of it can look like a part's or a quoted one."""
    return remark_problem(text) is None and not {*text} & {*":>|"}


def test_a_part_may_have_any_name_also_that_of_a_key() -> None:
    known = {"words": (), "by": (), "for": (), "end of choice": (), "nothing": (), "a b": ()}
    chosen = {
        "words": ("001",),
        "by": (),
        "for": ("002",),
        "end of choice": ("003",),
        "nothing": (),
    }
    text = choice_text(chosen, words={"words": "by: me", "by": "for: you"})
    one = read(text, known)
    assert one.chosen == chosen
    assert one.words == {"words": "by: me", "by": "for: you"}


def test_long_names_are_put_together_again_where_they_were_wrapped() -> None:
    part, mic = "left rhythm guitar of the second verse, the take of Tuesday", "a room's mic, far"
    known = {part: (f"original:{mic}",), "left": ()}
    chosen = {"left": ("001",), part: (f"original:{mic}", "012")}
    for columns in (72, 50, 36):
        text = smart(wrapped(choice_text(chosen, words={"left": "I like the"}), columns))
        assert read(text, known).chosen == chosen
        assert read(text, known).words == {"left": "I like the"}


def test_a_wrapped_remark_may_begin_a_line_with_what_looks_like_a_key() -> None:
    for start in (
        "hook: it bites",
        "words: none",
        "by: the way",
        "for: ever",
        "drums: 002",
        "a: b",
    ):
        text = sealed(HEAD + f"rhythm-left: 002\nwords: I like\n{start}\nhook: 001")
        one = read(text)
        assert one.words == {"rhythm-left": f"I like {start}"}
        assert one.chosen == {"rhythm-left": ("002",), "hook": ("001",)}


def test_several_choices_are_read_each_by_itself_with_their_depth() -> None:
    other = choice_text({"hook": ("003",)}, listener="Ben", blind=False)
    broken = PLAIN.replace("002", "001")
    ones = found(f"{PLAIN}\nOn Tuesday:\n{quoted(broken)}\n> > old\n{quoted(quoted(other))}")
    assert [one.quoted for one in ones] == [0, 1, 2]
    assert [one.choice and one.choice.listener for one in ones] == ["Ana", None, "Ben"]


# ------------------------------------------------------------------ refused


def test_every_changed_letter_is_found() -> None:
    """A CRC of 32 bits finds every burst of up to 32 bits (Peterson and Brown 1961, from memory)."""
    begin, end = PLAIN.index("for:"), PLAIN.index("\nend of")
    for at in range(begin, end):
        if PLAIN[at].isalnum():
            for other in "x", "Q", "7":
                if other != PLAIN[at]:
                    text = f"{PLAIN[:at]}{other}{PLAIN[at + 1 :]}"
                    assert "checksum does not hold; copy it again from the page" in refused(text)


def test_a_letter_or_a_line_that_is_missing_is_found() -> None:
    lines = PLAIN.splitlines(keepends=True)
    for at in range(1, len(lines) - 1):
        assert "changed or cut on its way" in refused("".join(lines[:at] + lines[at + 1 :]))
    assert "no line ‘end of choice’, so it was cut off" in refused("".join(lines[:-1]))
    assert "no checksum, so it was cut off" in refused("".join(lines[:-1]) + "end of choice\n")
    one, other = found("".join(lines[:3]) + PLAIN)
    assert "cut off on its way" in one.problem
    assert other.choice is not None


HEAD = f"for: {NAME} {TOKEN}\nby: Ana\nblind: yes\n"


@pytest.mark.parametrize(
    ("body", "says"),
    [
        ("", "does not begin with ‘for:’|no line ‘for:’"),
        ("hello\n" + HEAD + "hook: 002", "does not begin with ‘for:’"),
        (HEAD.replace("by: Ana\n", "") + "hook: 002", "no line ‘by:’"),
        (f"for: {NAME} {TOKEN}", "no line ‘by:’"),
        (f"for: {NAME} {TOKEN}\nby: Ana", "no line ‘blind:’"),
        (HEAD, "names no part of this session"),
        (HEAD.replace(TOKEN, "short") + "hook: 002", "‘for: harbour-lights-001 short’ names no"),
        (HEAD.replace(f"{NAME} ", "") + "hook: 002", "names no hand-over"),
        (HEAD.replace("yes", "maybe") + "hook: 002", "neither yes nor no"),
        (
            HEAD + "drums: 002",
            "‘drums: 002’ begins with no part of this session; it is a choice of",
        ),
        (HEAD.replace("Ana", "") + "hook: 002", "the listener has no name"),
        (HEAD.replace("Ana", "A" * 41) + "hook: 002", "longer than 40 characters"),
        (HEAD.replace("Ana", "An\u202ea") + "hook: 002", "hidden character"),
        (HEAD + "hook: 0002", "'0002' names no sound; a sound is named as 002"),
        (HEAD + "hook: 2", "'2' names no sound"),
        (HEAD + "hook: ٠٠٣", "names no sound"),
        (HEAD + "hook: 002 003", "'002 003' names no sound"),
        (HEAD + "hook: 002,, 003", "'' names no sound"),
        (HEAD + "hook: di", "'di' names no sound"),
        (HEAD + "hook: 002\ndrums: 003", "begins with a part of this session"),
        (HEAD + "hook: 002, 002", "the sound 002 stands there twice"),
        (HEAD + "hook: 002\nhook: 003", "the part 'hook' stands there twice"),
        (HEAD + "hook: original:close", "hook has no original 'close'"),
        (HEAD + "hook:", "'' names no sound"),
        (HEAD + f"hook: {', '.join(f'{one:03d}' for one in range(1, 102))}", "over 99 sounds"),
        (HEAD + "hook: 002\nwords: a\x1b[2Jb", "hidden character"),
        (HEAD + "hook: 002\nwords: left\u202eright", "hidden character"),
        (HEAD + "hook: 002\nwords: a\u200db", "hidden character"),
        (HEAD + "hook: 002\nwords: a" + "\u0300\u0316" * 16, "more marks stand on one letter"),
        (HEAD + f"hook: 002\nwords: {'x' * 201}", "201 characters long; say it in 200"),
        (HEAD + f"hook: 002\nwords: {'x ' * LONGEST_TEXT}", "over 40000 characters"),
    ],
)
def test_what_cannot_be_a_choice_is_one_sentence(body: str, says: str) -> None:
    assert re.search(says, refused(sealed(body)))


def test_markup_is_nothing_but_words() -> None:
    words = '<script>alert("x")</script> [bold red]x[/] {"event": "said"} $(rm)'
    assert read(choice_text({"hook": ("001",)}, words={"hook": words})).words == {"hook": words}


HOSTILE = dict(
    enumerate(
        [
            "secondpass choice\n" * 100_000,
            "secondpass choice\n" + "a\u0300\u0316" * 600_000,
            "secondpass choice\n" + "\u0300\u0316" * 19_000 + "\nend of choice 00000000",
            "secondpass choice\n"
            + HEAD
            + "hook: "
            + "original:," * 3_500
            + "\nend of choice 00000000",
            sealed(HEAD + "hook: " + "original:," * 3_500),
            sealed(HEAD + "hook: 002\nwords: " + "hook\n" * 7_000),
            "> " * 1_000_000,
            "\u00a0" * 1_000_000 + "\r" * 1_000_000,
        ]
    )
)


@pytest.mark.parametrize("which", HOSTILE)
def test_a_hostile_text_is_done_with_soon(which: int) -> None:
    begun = time.process_time()
    assert all(one.choice is None for one in read_choices(HOSTILE[which], KNOWN))
    assert time.process_time() - begun < 3.0


PIECES = [*"\n >:,ab02\u0301", "hook", "words", "by", "secondpass choice\n", "end of choice"]


@given(st.lists(st.sampled_from(PIECES)).map("".join))
def test_any_lines_are_a_choice_or_a_sentence(body: str) -> None:
    for one in read_choices(sealed(HEAD + body), KNOWN):
        assert (one.choice is None) == bool(one.problem)
