"""Names people give, and the pieces of file names made of them.

A name must survive every file system a session is ever copied to: those that fold case, those that
decompose accents, and those that keep words such as ``aux`` for devices (common practice, no source;
the reserved words are Microsoft's "Naming Files, Paths, and Namespaces", from memory).
"""

from __future__ import annotations

import hashlib
import unicodedata
from pathlib import PurePosixPath, PureWindowsPath

from audio.vocab.characters import is_hidden, shown

BARE_PATH = "bare path"
"""The chain without a pedal: its round trip is the reference for all others of the same stream."""

LONGEST_NAME_BYTES = 80
"""UTF-8 bytes a part's name may have: it appears three times in the path of a recording."""

LONGEST_CHAIN_NAME = 80
"""Characters a chain's name may have: it stands on a card and in every list of variants."""

_RESERVED = frozenset(
    ["con", "prn", "aux", "nul", "conin$", "conout$"]
    + [f"{port}{n}" for port in ("com", "lpt") for n in "0123456789¹²³"]
)
_FORBIDDEN = '<>:"/\\|?*'


def name_problem(name: str) -> str | None:
    """Return why `name` cannot be a piece of a file name, with the way out; None when it can."""
    if not name.strip():
        return "a name is empty; give it one letter at least"
    faults = (
        (any(is_hidden(c) for c in name), "has a hidden character in it; type it again"),
        (any(c in _FORBIDDEN for c in name), f"has one of {_FORBIDDEN} in it; use a dash instead"),
        (
            name[0] in ".-~ " or name[-1] in ". ",
            "begins or ends with a dot, dash or space; use letters",
        ),
        (_stem(name) in _RESERVED, "is kept by Windows for a device; add a word to it"),
        (_size(name) > LONGEST_NAME_BYTES, f"is over {LONGEST_NAME_BYTES} bytes long; shorten it"),
    )
    fault = next((text for wrong, text in faults if wrong), None)
    return f"the name {shown(name)!r} {fault}" if fault else None


def chain_problem(name: str, *, of: str = "chain") -> str | None:
    """Return why `name` cannot be a chain's, or a sound's, with the way out; None when it can.

    A chain is called what the engineer calls it: any visible text, `slug` makes a file name of it.
    """
    if not name.strip():
        return f"the {of} has no name; write what is plugged in, such as 'fuzz into delay'"
    if any(is_hidden(c) for c in name):
        return f"the {of}'s name {shown(name)!r} has a hidden character in it; type it again"
    if len(name) > LONGEST_CHAIN_NAME:
        return f"the {of}'s name is longer than {LONGEST_CHAIN_NAME} characters; shorten it"
    return None


def is_inside(path: str) -> bool:
    """Return whether a path, relative to a folder, stays in it on every system, whatever lies there."""
    windows, posix = PureWindowsPath(path), PurePosixPath(path)
    rooted = bool(windows.drive or windows.root) or posix.is_absolute()
    plain = "\\" not in path and not any(is_hidden(c) for c in path)
    return plain and not rooted and bool(posix.parts) and ".." not in posix.parts


def twin_key(name: str) -> str:
    """Return what two names share when some file system takes them for one."""
    folded = unicodedata.normalize("NFKC", name).casefold()
    return unicodedata.normalize("NFKC", folded)


def slug(name: str) -> str:
    """Return a name as a piece of a file name: small letters, digits and single dashes, never empty."""
    composed = unicodedata.normalize("NFC", name).lower()
    words = "".join(c if _is_letter(c) else " " for c in composed).split()
    return "-".join(words) or "unnamed"


def shortened(piece: str, *, longest_bytes: int) -> str:
    """Return `piece`, cut where it is too long, then ending in six digits of its hash to stay unique."""
    if len(piece.encode()) <= longest_bytes:
        return piece
    digest = hashlib.sha256(piece.encode()).hexdigest()[:6]
    cut = piece.encode()[: longest_bytes - 7].decode(errors="ignore").rstrip("-")
    return f"{cut}-{digest}"


def _stem(name: str) -> str:
    return name.partition(".")[0].strip().lower()


def _size(name: str) -> int:
    return len(name.encode(errors="replace"))


def _is_letter(character: str) -> bool:
    mark = unicodedata.category(character) in {"Mn", "Mc"}
    return (character.isalnum() or mark) and not is_hidden(character)
