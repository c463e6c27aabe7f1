"""The text that a listening page writes and a listener sends back, read out of whatever a mail made of it.

::

    secondpass choice
    for: harbour-lights-001 7f3k2q4m
    by: Ana
    blind: yes
    rhythm-left: 002, original:close
    words: more bite, and the tail is right
    hook: nothing
    end of choice 3c1f88ab

Mails quote lines, wrap them, turn quotation marks and double spaces. The checksum is made of letters and
digits alone, so none of that harms; a letter that is missing or another one does.
"""

from __future__ import annotations

import re
import unicodedata
import zlib
from collections.abc import Collection, Iterator, Mapping
from itertools import groupby

import msgspec

from audio.vocab.blind import listener_problem
from audio.vocab.characters import is_hidden, shown
from audio.vocab.choice import MOST_PLACES, ChoiceText, remark_problem
from audio.vocab.errors import UseError
from audio.vocab.layers import original_key, variant_number

MOST_BYTES = 10_000_000
"""Of a file; a mail with photos is smaller, what is larger is a mailbox or something else."""

LONGEST_TEXT = 40_000
"""Characters of one choice: a hundred parts, each with a name, some sounds and a remark."""

MOST_MARKS = 30
"""Combining marks in a row (Unicode Standard Annex 15, stream-safe text)."""

NOTHING = "nothing"

_MARK = "choice"
_BEGINS = "secondpass choice"
_ENDS = re.compile(r"end of choice(?:$| ([0-9a-f]{8})(?![\w:-]))", re.ASCII)
_LINE_END = re.compile(r"\r\n|\r|\n")
_QUOTED = re.compile(r"[\s>|\ufeff]*")
_HEAD = ("for", "by", "blind")
_WORDS = "words"
_TOKEN = re.compile(r"[a-z0-9]{8}")
_ORIGINAL = original_key("")
_AGAIN = "copy it again from the page"
_CUT_OFF = f"it has no line ‘end of choice’, so it was cut off on its way; {_AGAIN}"
_TOO_LONG = f"it goes on for over {LONGEST_TEXT} characters, which no choice does; {_AGAIN}"

_TURNED = str.maketrans(
    {**dict.fromkeys("‘’‚‛ʼ´`", "'"), **dict.fromkeys("‐‑‒–—―−", "-"), "…": "..."}
)
"""What mail programs make of plain signs (common practice, no source)."""


class Found(msgspec.Struct, frozen=True, kw_only=True):
    """One choice of a text, or why it cannot be read."""

    quoted: int
    """Quotation marks before its first line: in an answer to an answer the older one has more."""
    choice: ChoiceText | None
    problem: str = ""
    """One sentence; empty where it can be read."""


class _Field(msgspec.Struct, kw_only=True):
    """One line as it was before a mail wrapped it."""

    key: str
    """A word of the head, a part's name, or ``words``."""
    of_part: bool
    value: str


Known = Mapping[str, Collection[str]]
"""Of each part the keys of its originals."""


def read_choices(text: str, known: Known) -> Iterator[Found]:
    """Read every choice of a text, in the order they stand there.

    Parameters
    ----------
    text
        Of a mail or a file, from outside; what stands around the choices is passed over.
    known
        Of every part that may be named, the keys of its originals.

    Yields
    ------
    Found
        One for each line ``secondpass choice``.
    """
    lines: list[str] | None = None
    quoted = size = 0
    for raw in _LINE_END.split(text):
        if lines is None and _MARK not in raw:
            continue
        marks = _QUOTED.match(raw)
        line = raw[marks.end() :] if marks else raw
        words = " ".join(line.split())
        if words == _BEGINS:
            if lines is not None:
                yield _unread(quoted, _CUT_OFF)
            lines, size, quoted = [], 0, marks.group().count(">") if marks else 0
        elif lines is not None:
            end, size = _ENDS.match(words), size + len(line)
            lines.append(line)
            if end is not None:
                yield _found(quoted, lines[:-1], end[1], known)
            elif size > LONGEST_TEXT:
                yield _unread(quoted, _TOO_LONG)
            if end is not None or size > LONGEST_TEXT:
                lines = None
    if lines is not None:
        yield _unread(quoted, _CUT_OFF)


def checksum_of(text: str) -> str:
    """Return what a text must end with: the CRC-32 of its letters and digits, eight hexadecimal digits."""
    kept = (c for c in unicodedata.normalize("NFC", text) if unicodedata.category(c)[0] in "LN")
    return f"{zlib.crc32(''.join(kept).encode('utf-8', 'replace')):08x}"


def _unread(quoted: int, problem: str) -> Found:
    return Found(quoted=quoted, choice=None, problem=problem)


def _found(quoted: int, lines: list[str], checksum: str | None, known: Known) -> Found:
    try:
        return Found(quoted=quoted, choice=_choice(lines, checksum, known))
    except UseError as error:
        return _unread(quoted, str(error))


def _choice(lines: list[str], checksum: str | None, known: Known) -> ChoiceText:
    text = "\n".join(lines)
    if _is_crowded(text):
        raise UseError(f"more marks stand on one letter than any script has; {_AGAIN}")
    if checksum is None:
        raise UseError(f"its last line has no checksum, so it was cut off on its way; {_AGAIN}")
    if checksum_of(text) != checksum:
        raise UseError(f"it was changed or cut on its way, its checksum does not hold; {_AGAIN}")
    fields = _fields(unicodedata.normalize("NFC", text).split("\n"), _by_spelling(known))
    missing = next((key for at, key in enumerate(_HEAD) if len(fields) <= at), None)
    if missing is not None:
        raise UseError(f"it has no line ‘{missing}:’ in its place; {_AGAIN}")
    head = {one.key: one.value for one in fields[: len(_HEAD)]}
    name, token = _handover(head["for"])
    if problem := listener_problem(head["by"]):
        raise UseError(problem)
    blind, _, behind = head["blind"].partition(" ")
    if blind not in ("yes", "no"):
        raise UseError(f"‘blind: {shown(blind)}’ is neither yes nor no; {_AGAIN}")
    if behind:
        raise UseError(
            f"‘{shown(behind)}’ begins with no part of this session; it is a choice of {shown(name)}, name"
            " the session that was handed over so"
        )
    chosen, words = _of_parts(fields[len(_HEAD) :], known)
    return ChoiceText(
        name=name,
        token=token,
        listener=head["by"],
        blind=blind == "yes",
        chosen=chosen,
        words=words,
        checksum=checksum,
    )


def _is_crowded(text: str) -> bool:
    """Return whether marks follow each other as in no script: to order them would take minutes."""
    runs = groupby(text, key=lambda c: unicodedata.combining(c) > 0)
    return any(marks and len(list(run)) > MOST_MARKS for marks, run in runs)


def _handover(value: str) -> tuple[str, str]:
    name, _, token = value.rpartition(" ")
    if not name or any(map(is_hidden, name)) or _TOKEN.fullmatch(token) is None:
        raise UseError(f"‘for: {shown(value)}’ names no hand-over; {_AGAIN}")
    return name, token


# ------------------------------------------------------------------ lines


def _spelled(text: str) -> str:
    """Return a name as it is found again whatever a mail made of its signs and spaces."""
    return " ".join(text.translate(_TURNED).split())


def _by_spelling(names: Collection[str]) -> dict[str, str]:
    """Return each name by how a mail may spell it; as it is spelled itself it is never another one."""
    turned = {_spelled(one): one for one in names}
    return turned | {" ".join(one.split()): one for one in names}


def _named(spelled: str, names: Mapping[str, str]) -> str | None:
    exact = " ".join(spelled.split())
    return names.get(exact) or names.get(_spelled(exact))


def _fields(lines: list[str], parts: Mapping[str, str]) -> list[_Field]:
    """Return the lines as they were before they were wrapped: one that begins with no key goes on."""
    fields: list[_Field] = []
    waiting = ""  # a line that may be the first half of a part's name
    for line in filter(str.strip, lines):
        key = _key(line, fields, parts)
        whole = f"{waiting} {line}"
        if key is None and waiting and _key(whole, fields, parts) is not None:
            fields[-1].value = fields[-1].value.removesuffix(waiting)
            key, line = _key(whole, fields, parts), whole  # noqa: PLW2901 - it is this line, whole
        if key is not None:
            fields.append(_Field(key=key[0], of_part=key[1], value=line.partition(":")[2]))
            waiting = ""
        elif fields:
            fields[-1].value += f" {line}"
            waiting = "" if ":" in line else line
        else:
            raise UseError(f"it does not begin with ‘for:’; {_AGAIN}")
    for one in fields:
        one.value = " ".join(one.value.split())
    return fields


def _key(line: str, fields: list[_Field], parts: Mapping[str, str]) -> tuple[str, bool] | None:
    """Return which key a line begins with, and whether that is a part's; None where it continues the last.

    A remark may hold anything, also what looks like a key: behind one only a line that goes on with sounds
    is a part's.
    """
    name, colon, value = line.partition(":")
    name = name.strip()
    if not colon:
        return None
    if len(fields) < len(_HEAD):
        return (name, False) if name == _HEAD[len(fields)] else None
    part, last = _named(name, parts), fields[-1]
    remark_due = name == _WORDS and last.of_part
    in_remark = last.key == _WORDS and not last.of_part
    if part is not None and (_are_sounds(value) or not (remark_due or in_remark)):
        return part, True
    return (_WORDS, False) if remark_due else None


def _are_sounds(value: str) -> bool:
    """Return whether a line goes on as a part's does; it may end there, its sounds on the next one."""
    first = re.split(r"[,\s]", value.strip(), maxsplit=1)[0]
    sound = variant_number(first) is not None or first.startswith(_ORIGINAL)
    return not value.strip() or sound or value.strip() == NOTHING


# ------------------------------------------------------------------ parts


def _of_parts(
    fields: list[_Field], known: Known
) -> tuple[dict[str, tuple[str, ...]], dict[str, str]]:
    """Return what was chosen of each part, and said to it."""
    chosen: dict[str, tuple[str, ...]] = {}
    words: dict[str, str] = {}
    part = ""
    for one in fields:
        if one.of_part:
            part = one.key
            if part in chosen:
                raise UseError(f"the part {shown(part)!r} stands there twice; {_AGAIN}")
            chosen[part] = _sounds(part, one.value, _by_spelling(known[part]))
        elif problem := remark_problem(one.value):
            raise UseError(f"{part}: {problem}")
        elif one.value:
            words[part] = one.value
    if not chosen:
        raise UseError(f"it names no part of this session; {_AGAIN}")
    return chosen, words


def _sounds(part: str, value: str, originals: Mapping[str, str]) -> tuple[str, ...]:
    """Return the keys of one line; `UseError` where one of them names no sound."""
    if value == NOTHING:
        return ()
    pieces = [one.strip() for one in value.split(",")]
    keys: list[str] = []
    while pieces and len(keys) < MOST_PLACES:
        key, taken = _first_of(part, pieces, originals)
        if key in keys:
            raise UseError(f"{part}: the sound {shown(key)} stands there twice; {_AGAIN}")
        keys.append(key)
        del pieces[:taken]
    if pieces:
        raise UseError(f"{part}: over {MOST_PLACES} sounds are chosen; choose fewer")
    return tuple(keys)


def _first_of(part: str, pieces: list[str], originals: Mapping[str, str]) -> tuple[str, int]:
    """Return the first key of some pieces and how many it takes: an original's name may hold commas."""
    first = pieces[0]
    if variant_number(first) is not None:
        return first, 1
    most = min(len(pieces), MOST_PLACES) if first.startswith(_ORIGINAL) else 0
    for taken in range(most, 0, -1):
        key = _named(", ".join(pieces[:taken]), originals)
        if key is not None:
            return key, taken
    if most:
        raise UseError(
            f"{part} has no original {shown(first.removeprefix(_ORIGINAL))!r}; check that the choice is"
            " of this session"
        )
    way_out = "a sound is named as 002 or original:close"
    if ":" in first:
        way_out += ", and a line begins with a part of this session"
    raise UseError(f"{part}: {shown(first)!r} names no sound; {way_out}")
