"""The text of a saved mail, whatever it was packed in; the mails are made by Python's own library."""

from __future__ import annotations

import contextlib
import time
from email.message import EmailMessage

import pytest
from choice_cases import choice_text, quoted
from hypothesis import given
from hypothesis import strategies as st

from audio.files.mail import MOST_BOUNDARIES, MOST_LINES, text_of
from audio.vocab.choice_text import read_choices
from audio.vocab.errors import UseError

TEXT = choice_text({"hook": ("002",)}, listener="Amélie", words={"hook": "näher, bitte — “mehr”"})


def mail(text: str, **how: str) -> EmailMessage:
    one = EmailMessage()
    one["From"], one["Subject"] = "Amélie <amelie@example.org>", "secondpass choice"
    one.set_content(text, **how)
    return one


def chosen(data: bytes) -> list[str]:
    found = read_choices(text_of(data, where="mail.eml"), {"hook": ()})
    return [one.choice.listener if one.choice else one.problem for one in found]


@pytest.mark.parametrize("packed", ["8bit", "quoted-printable", "base64"])
@pytest.mark.parametrize("charset", ["utf-8", "windows-1252"])
def test_a_saved_mail_is_read_however_it_is_packed(packed: str, charset: str) -> None:
    data = mail(f"Hi,\n\n{TEXT}\n-- \nA.", cte=packed, charset=charset).as_bytes()
    assert chosen(data) == ["Amélie"]
    assert chosen(data.replace(b"\n", b"\r\n")) == ["Amélie"]


def test_plain_text_beside_html_in_attached_files_and_in_forwarded_mails_is_read() -> None:
    one = mail(f"see below\n{TEXT}", cte="quoted-printable")
    one.add_alternative("<p>secondpass choice</p>", subtype="html")
    one.add_attachment(TEXT.replace("Am", "Xm"), filename="choice.txt")
    one.add_attachment(b"\0\1\2" * 1000, maintype="image", subtype="jpeg", filename="amp.jpg")
    outer = mail(quoted("no choice of mine"))
    outer.add_attachment(one)
    assert chosen(outer.as_bytes())[0] == "Amélie"
    assert "was changed" in chosen(outer.as_bytes())[1]


def test_a_text_is_read_as_it_stands() -> None:
    assert chosen(TEXT.encode()) == ["Amélie"]
    assert chosen(TEXT.encode("utf-8-sig")) == ["Amélie"]
    assert chosen(b"Hello: you\n\n" + TEXT.encode()) == ["Amélie"]
    assert "was changed" in chosen(TEXT.encode("latin-1", "ignore"))[0]


def test_headers_that_were_copied_with_the_text_make_it_no_worse() -> None:
    head = "From: Amélie\nDate: today\nSubject: secondpass choice\n\n"
    assert chosen(f"{head}{TEXT}".encode()) == ["Amélie"]


@pytest.mark.parametrize("charset", ["zip", "punycode", "rot13", "no-such", "utf-7", "x" * 500])
def test_a_charset_that_is_none_is_read_as_utf_8(charset: str) -> None:
    head = f'From: a\nContent-Type: text/plain; charset="{charset}"\n\n'
    assert chosen(f"{head}{TEXT}".encode()) == ["Amélie"]


def test_what_is_no_single_mail_with_text_is_refused_in_a_sentence() -> None:
    html = EmailMessage()
    html["From"] = "a"
    html.set_content("<p>secondpass choice</p>", subtype="html")
    stamp = b"From ana@example.org Sat Nov 28 12:00:00 2026\n"
    one = stamp + mail(TEXT).as_bytes()
    assert chosen(one) == ["Amélie"]
    for data, says in (
        (html.as_bytes(), "mail.eml is a mail without plain text; copy what it shows"),
        (one + b"\n" + one, "mail.eml is a whole mailbox; save each mail"),
        (b"From: a\n\n" + b"\n" * MOST_LINES + b"x\n", "too twisted to be a mail"),
        (b"From: a\n\n" + b"boundary=" * (MOST_BOUNDARIES + 1), "too twisted"),
        (b"Content-Type: text/plain;" + b" a=b;" * 2_000_000, "too twisted"),
        (b"From: a\nContent-Type: message/rfc822\n\n" * 5_000, "nested too deep"),
    ):
        begun = time.process_time()
        with pytest.raises(UseError, match=says):
            text_of(data, where="mail.eml")
        assert time.process_time() - begun < 2.0


@given(st.binary(max_size=300), st.sampled_from([b"", b"From: a\n", b"MIME-Version: 1.0\n"]))
def test_any_bytes_are_a_text_or_a_sentence(data: bytes, head: bytes) -> None:
    with contextlib.suppress(UseError):
        assert isinstance(text_of(head + data, where="x"), str)
