"""What the face asks of the worker, and what comes back, on the pipe: one JSON object a line.

Each request carries a number; its answer carries the same. `Follow` is answered at once and measures
while the files grow; `Close` says that they will grow no more; `Finish` answers with everything.
"""

from __future__ import annotations

import msgspec

from audio.vocab import strict_json
from audio.vocab.answers import Answered
from audio.vocab.requests import Asked


class Envelope(msgspec.Struct, frozen=True, kw_only=True):
    """A numbered request."""

    number: int
    asked: Asked


class Reply(msgspec.Struct, frozen=True, kw_only=True):
    """A numbered answer."""

    number: int
    answered: Answered


_encoder = msgspec.json.Encoder()
_envelopes = msgspec.json.Decoder(Envelope)
_replies = msgspec.json.Decoder(Reply)


def encode(message: Envelope | Reply) -> bytes:
    """Return a message as one line of JSON, newline included."""
    return _encoder.encode(message) + b"\n"


def decode_envelope(line: bytes) -> Envelope:
    """Return the request in one line; raise `msgspec.ValidationError` for anything else."""
    return strict_json.decode(_envelopes, line)


def decode_reply(line: bytes) -> Reply:
    """Return the answer in one line; raise `msgspec.ValidationError` for anything else."""
    return strict_json.decode(_replies, line)
