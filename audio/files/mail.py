"""The text of a file somebody has saved: as it stands, or of a mail what is plain text in it.

A mail (RFC 5322, with MIME, RFC 2045) may hold its text as quoted-printable or base64, may carry it beside
the same as HTML, or in a file attached to it. Of HTML alone nothing is read.
"""

from __future__ import annotations

import re
from email import message_from_bytes
from email.message import Message
from pathlib import Path

from audio.vocab.errors import UseError

MOST_LINES = 200_000
"""Ten megabytes of attached files have 130,000."""

MOST_BOUNDARIES = 30
"""A mail with its alternatives, attached files and answers has some ten; the library compares each line
with each of them."""

_HEADER = re.compile(rb"[!-9;-~]+:")
_TELLS = re.compile(
    rb"^(?:from|date|received|return-path|mime-version|content-type)[ \t]*:",
    re.IGNORECASE | re.MULTILINE,
)
_NEXT_MAIL = re.compile(rb"\r?\n\r?\nFrom [^\r\n]*\d\d:\d\d")
_LONG_TYPE = re.compile(
    rb"^content-type[ \t]*:(?:[^\r\n]|(?:\r\n|\r|\n)[ \t]){2000}", re.IGNORECASE | re.MULTILINE
)
"""A line that says what a piece is; to take a long one apart takes the library minutes."""

_BOUNDARY = re.compile(rb"boundary", re.IGNORECASE)
_CHARSET = re.compile(
    r"iso-8859-\d{1,2}|windows-125\d|cp125\d|koi8-[ru]|gb\d{4,5}|gbk|big5|shift_jis|iso-2022-jp|euc-(?:jp|kr)",
    re.IGNORECASE,
)
"""What is decoded as it says; all else is UTF-8, and what that cannot read shows as a replacement sign."""


def text_of(data: bytes, *, where: Path | str) -> str:
    """Return the text of a file or a saved mail.

    Parameters
    ----------
    data
        Its content.
    where
        The file, for messages.

    Returns
    -------
    str
        Of a mail all pieces of plain text, below each other.

    Raises
    ------
    UseError
        If it is too twisted to be one mail, or has no plain text.
    """
    if not _is_mail(data):
        return data.decode("utf-8-sig", "replace")
    _refuse_twisted(data, where)
    try:
        pieces = list(message_from_bytes(data).walk())
        texts = [_decoded(one) for one in pieces if one.get_content_type() == "text/plain"]
    except RecursionError:
        raise UseError(f"{where} is a mail nested too deep; copy its text into a file") from None
    if not texts:
        raise UseError(f"{where} is a mail without plain text; copy what it shows into a text file")
    return "\n".join(texts)


def _is_mail(data: bytes) -> bool:
    """Return whether a file begins with the headers of a mail."""
    head = data.lstrip(b"\xef\xbb\xbf").removeprefix(b"From ")[:20_000]
    first = re.split(rb"\r?\n\r?\n", head, maxsplit=1)[0]
    begins = data.startswith(b"From ") or _HEADER.match(first) is not None
    return begins and _TELLS.search(first) is not None


def _refuse_twisted(data: bytes, where: Path | str) -> None:
    """Refuse what would keep the library busy for minutes, or hide what is in it."""
    if data.startswith(b"From ") and _NEXT_MAIL.search(data):
        raise UseError(f"{where} is a whole mailbox; save each mail as a file of its own")
    lines = max(data.count(b"\n"), data.count(b"\r"))
    boundaries = len(_BOUNDARY.findall(data))
    if lines > MOST_LINES or boundaries > MOST_BOUNDARIES or _LONG_TYPE.search(data):
        raise UseError(f"{where} is too twisted to be a mail; copy its text into a file")


def _decoded(piece: Message) -> str:
    content = piece.get_payload(decode=True)
    if not isinstance(content, bytes):
        return ""
    charset = str(piece.get_param("charset", "utf-8"))
    known = charset if _CHARSET.fullmatch(charset) else "utf-8-sig"
    try:
        return content.decode(known, "replace")
    except LookupError:
        return content.decode("utf-8-sig", "replace")
