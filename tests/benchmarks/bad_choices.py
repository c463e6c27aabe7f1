"""Choices that listeners sent back: a text, or the mail around it."""

from __future__ import annotations

from email.message import EmailMessage
from pathlib import Path

import report  # noqa: F401 - makes the tests' own rooms importable
from bad_kind import Kind, Refused, Wrong
from unit.choice_cases import choice_text, quoted, sealed, wrapped

from audio.jobs.choices import found_in
from audio.vocab.characters import is_hidden
from audio.vocab.layers import sound_problem

_KNOWN = {"rhythm-left": ("original:close", "original:a, b"), "hook": (), "words": ()}
_ANA = choice_text(
    {"rhythm-left": ("002", "original:a, b"), "hook": ()}, words={"rhythm-left": "more bite"}
)
_WORDS = (
    *(b"secondpass choice\n", b"end of choice 00000000\n", b"end of choice", b"for: ", b"by: "),
    *(b"blind: no\n", b"words: ", b"hook: 002\n", b"nothing", b"0002", "٣".encode(), b"original:"),
    *(
        b"\xef\xbb\xbf",
        b"> ",
        b"\r",
        b"\xc2\xa0",
        b"\xe2\x80\xae",
        b"\x1b[2J",
        b"\xff",
        b"=\n",
        b"=E2",
    ),
    *(b"From: a\n", b"MIME-Version: 1.0\n", b"Content-Type: multipart/mixed; boundary=b\n\n--b\n"),
    *(b"Content-Transfer-Encoding: base64\n", b"Content-Type: message/rfc822\n\n", b"charset=zip"),
)


def kinds() -> tuple[Kind, ...]:
    """Return this file's kind."""
    return (Kind("choices of listeners", "mail.eml", _read, _seeds, _extremes, _WORDS),)


def _read(path: Path) -> None:
    """Read the choices of a file; what is found in it can be shown, and stands in a journal's line."""
    found = found_in(path, _KNOWN)
    for one in found:
        if "\n" in one.problem or (one.choice is None) is not bool(one.problem):
            raise Wrong(f"not one sentence: {one.problem!r}")
        if one.choice is not None:
            said = one.choice
            texts = (said.name, said.token, said.listener, *said.chosen, *said.words.values())
            keys = [key for keys in said.chosen.values() for key in keys]
            if any(is_hidden(c) for text in texts for c in text) or any(map(sound_problem, keys)):
                raise Wrong(f"a choice that cannot be: {said!r}")
    if not any(one.choice for one in found):
        raise Refused(f"{path}: {found[0].problem}")


def _seeds() -> list[bytes]:
    return [_ANA.encode(), quoted(wrapped(_ANA, 40)).encode(), _mail("8bit"), _mail("base64")]


def _mail(packed: str) -> bytes:
    mail = EmailMessage()
    mail["From"] = "ana@example.org"
    mail.set_content(f"Hi,\n\n{_ANA}\n-- \nAna", cte=packed)
    mail.add_alternative("<p>secondpass choice</p>", subtype="html")
    return mail.as_bytes()


def _extremes() -> list[bytes]:
    head = "for: a-001 aaaaaaaa\nby: Ana\nblind: no\n"
    deep = b"From: a\nContent-Type: message/rfc822\n\n"
    many = b"From: a\nContent-Type: multipart/mixed; boundary=b\n\n" + b"--b\n\n" * 190_000
    return [
        *(b"", b"\0" * 99, b"secondpass choice\n" * 555_000, b"\r" * 9_999_999, b"x" * 10_000_001),
        *(sealed(head + "hook: " + "original:," * 4_000).encode(), deep * 5_000, deep * 200, many),
        b"secondpass choice\n" + "a\u0300\u0316".encode() * 2_000_000,
        sealed(f"{head}hook: 002\nwords: {'hook' * 9_000}").encode(),
        b"Content-Type: text/plain;" + b" a=b;" * 1_900_000,
        b"Content-Type: text/plain; charset=punycode\n\n" + b"a-" * 4_900_000,
    ]
