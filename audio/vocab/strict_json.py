"""JSON as the program reads it: one kind of refusal, whatever is wrong, and words safe to show.

The library has three: its own, one for text that is no UTF-8, one for values nested too deep. Its words
quote what it found, which may steer a terminal or fill one.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import msgspec

from audio.vocab.characters import visible

LONGEST_REASON = 300
"""Characters of what was wrong; the rest would be the file itself."""

T = TypeVar("T")


def decode(decoder: msgspec.json.Decoder[T], data: bytes) -> T:
    """Return what some JSON holds.

    Parameters
    ----------
    decoder
        Of what it must be.
    data
        The whole text.

    Returns
    -------
    T
        The value.

    Raises
    ------
    msgspec.ValidationError
        If it is anything else; the text says what, in one line.
    """
    return _refused_alike(lambda: decoder.decode(data))


def convert(value: Any, kind: type[T]) -> T:
    """Return a value that was read as a value of some kind; refused as by `decode`."""
    return _refused_alike(lambda: msgspec.convert(value, kind))


def _refused_alike(read: Callable[[], T]) -> T:
    try:
        return read()
    except msgspec.MsgspecError as error:
        reason = str(error)
    except UnicodeDecodeError:
        reason = "it is no UTF-8 text"
    except RecursionError:
        reason = "it is nested too deep"
    raise msgspec.ValidationError(visible(reason, longest=LONGEST_REASON)) from None
