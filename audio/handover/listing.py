"""What a hand-over holds, as a table for people and as a record for programs; pure.

The table is CSV as RFC 4180 has it, in UTF-8 with a byte order mark, without which spreadsheets take names
for something else. What a spreadsheet would take for a formula is marked as text (common practice, after
OWASP's page on CSV injection, from memory).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Any

import msgspec

from audio.vocab.balance import Balance, balance_words, heard_db
from audio.vocab.characters import escaped
from audio.vocab.choice import choice_words
from audio.vocab.handover import FileDone, HandoverOrder, Piece
from audio.vocab.opinion import Opinion
from audio.vocab.session_file import Song
from audio.vocab.variant import Variant, VariantFile

MARK = "\ufeff"
"""Byte order mark."""

_FORMULA = ("=", "+", "-", "@", "\t", "\r")


class Listed(msgspec.Struct, frozen=True, kw_only=True):
    """One file of a hand-over, and all that is known of it."""

    piece: Piece
    done: FileDone
    variant: Variant | None = None
    opinion: Opinion | None = None
    offset_ms: float | None = None
    """Of an original: how much later than its DI it is."""

    @property
    def balance(self) -> Balance:
        """The one that counts."""
        return self.opinion.blend if self.opinion is not None else Balance()

    @property
    def recorded(self) -> VariantFile | None:
        """What the pass says of this file."""
        files = self.variant.files if self.variant else ()
        return next((one for one in files if one.return_name == self.piece.microphone), None)


def table(listed: Iterable[Listed]) -> str:
    """Return the table: a line of names, then a line a file, CRLF behind each.

    Parameters
    ----------
    listed
        In order; a FLAC file beside one is a line of its own.

    Returns
    -------
    str
        Numbers with a point; what is not known is empty.
    """
    rows = [_row(one) for one in listed]
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    writer.writerows([_cell(row[name]) for name in COLUMNS] for row in rows)
    return MARK + out.getvalue()


def record(order: HandoverOrder, songs: Sequence[Song], listed: Iterable[Listed]) -> bytes:
    """Return everything as one JSON object: the table's lines, the songs, each variant whole.

    Parameters
    ----------
    order
        What was decided.
    songs
        Of the session, those that are in it.
    listed
        As for `table`.

    Returns
    -------
    bytes
        Indented, with a line's end.
    """
    listed = tuple(listed)
    variants: dict[tuple[str, int], dict[str, Any]] = {}
    for one in listed:
        if one.variant is not None:
            key = (one.variant.part, one.variant.number)
            variants[key] = {"variant": one.variant, "said": one.opinion}
    value = {
        "format": order.format,
        "handover": order.name,
        "token": order.token,
        "session": order.session,
        "made_at": order.made_at,
        "asked": order.asked,
        "starts": order.starts,
        "left_out": order.left_out,
        "files": [_row(one) | {"sources": one.piece.sources} for one in listed],
        "songs": tuple(songs),
        "variants": list(variants.values()),
    }
    return msgspec.json.format(msgspec.json.encode(value), indent=2) + b"\n"


def timecode(seconds: float) -> str:
    """Return a place on the recorder's timeline as ``hh:mm:ss.mmm``."""
    milliseconds = round(seconds * 1000.0)
    whole, rest = divmod(milliseconds, 1000)
    return f"{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}.{rest:03d}"


COLUMNS = (
    "path",
    "kind",
    "song",
    "part",
    "number",
    "chain",
    "called",
    "microphone",
    "input",
    "start",
    "start_frame",
    "sample_rate",
    "depth",
    "channels",
    "frames",
    "seconds",
    "peak_dbfs",
    "loudness_lufs",
    "polarity",
    "balance_db",
    "balance",
    "verdict",
    "findings",
    "state",
    "rating",
    "keeper",
    "words",
    "listeners",
    "made_at",
    "delay_frames",
    "plus_minus_frames",
    "removed_frames",
    "residual_frames",
    "offset_ms",
    "bytes",
    "sha256",
    "source",
)
"""Of the table. ``removed_frames`` is what was taken off the round trip, whole frames, ``residual_frames``
what is left of it in the file; ``balance_db`` is what the microphone stood at where the sound was kept."""


def _row(one: Listed) -> dict[str, Any]:
    piece, done = one.piece, one.done
    row: dict[str, Any] = dict.fromkeys(COLUMNS)
    row |= {
        "path": done.path,
        "kind": piece.kind,
        "song": piece.song,
        "part": piece.part or None,
        "number": piece.number,
        "microphone": piece.microphone or None,
        "start": timecode(piece.time_reference / piece.sample_rate),
        "start_frame": piece.time_reference,
        "sample_rate": piece.sample_rate,
        "depth": done.depth or piece.depth,
        "channels": piece.channels,
        "frames": piece.frames,
        "seconds": round(piece.frames / piece.sample_rate, 3),
        "peak_dbfs": _rounded(done.peak_dbfs),
        "offset_ms": _rounded(one.offset_ms, 3),
        "bytes": done.size,
        "sha256": done.sha256,
        "source": piece.sources[0].file if len(piece.sources) == 1 else None,
    }
    return row | _of_variant(one) | _of_opinion(one) | _of_file(one)


def _of_variant(one: Listed) -> dict[str, Any]:
    variant = one.variant
    if variant is None:
        return {}
    return {
        "chain": variant.chain.name,
        "verdict": variant.verdict,
        "findings": "; ".join(found.text for found in variant.findings) or None,
        "state": variant.state,
        "made_at": variant.made_at,
        "delay_frames": _rounded(variant.delay_frames, 3),
        "plus_minus_frames": _rounded(variant.plus_minus_frames, 3),
        "removed_frames": variant.shift_frames,
        "residual_frames": _rounded(variant.residual_frames, 3),
    }


def _of_opinion(one: Listed) -> dict[str, Any]:
    said = one.opinion
    if said is None:
        return {}
    row = {
        "called": said.called or None,
        "rating": said.rating,
        "keeper": None if said.keeper is None else said.keeper.reason or "yes",
        "words": "; ".join(said.words) or None,
        "listeners": "; ".join(map(choice_words, said.choices)) or None,
    }
    return row | ({"chain": said.chain} if said.chain else {})


def _of_file(one: Listed) -> dict[str, Any]:
    if one.piece.kind == "blend":
        return {"balance": balance_words(one.balance) or "all at 0 dB"}
    recorded = one.recorded
    if recorded is None:
        return {}
    heard = heard_db(one.balance, recorded.return_name)
    row = {
        "input": recorded.input,
        "polarity": recorded.polarity,
        "loudness_lufs": _rounded(recorded.loudness_lufs),
        "balance_db": "off" if heard is None else heard,
    }
    return row | ({} if one.done.peak_dbfs else {"peak_dbfs": _rounded(recorded.peak_dbfs)})


def _rounded(value: float | None, digits: int = 1) -> float | None:
    return None if value is None else round(value, digits) + 0.0


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if not isinstance(value, str):
        return str(value)
    text = escaped(value)
    return f"'{text}" if text.startswith(_FORMULA) else text
