"""What may be said of a variant: one check for the screen, the command line and the journal's reader."""

from __future__ import annotations

from collections.abc import Sequence

from audio.vocab.balance import Balance, balance_problem
from audio.vocab.characters import is_hidden, shown
from audio.vocab.names import chain_problem, is_inside

BEST_RATING = 5
"""Ratings run from 1 to this; 0 takes one back."""

LONGEST_WORDS = 500
"""Characters of one remark: a line that is read in a list, no diary."""

LONGEST_PHOTO = 200
"""Characters of a photo's file name; common file systems end at 255 bytes."""


def rating_problem(rating: int) -> str | None:
    """Return why a number is no rating, with the way out; None when it is one, or 0 to take one back."""
    if 0 <= rating <= BEST_RATING:
        return None
    return f"{rating} is no rating; rate from 1 to {BEST_RATING}, 0 takes a rating back"


def words_problem(words: str) -> str | None:
    """Return why words cannot be noted, with the way out; None when they can: one line, nothing hidden."""
    if not words.strip():
        return "there are no words; say what you hear, such as 'too much low end'"
    if any(is_hidden(c) for c in words):
        return f"the words {shown(words)!r} have a hidden character or a line break; type one line"
    if len(words) > LONGEST_WORDS:
        return f"the words are {len(words)} characters long; say it in {LONGEST_WORDS}"
    return None


def photo_problem(photo: str) -> str | None:
    """Return why `photo` is no name of a file, with the way out; None when it is one, without a folder."""
    if not photo.strip():
        return "the photo has no name; give the name of its file, such as IMG_0412.jpg"
    if any(is_hidden(c) for c in photo):
        return f"the photo's name {shown(photo)!r} has a hidden character in it; type it again"
    if "/" in photo or not is_inside(photo) or photo == ".":
        return f"{shown(photo)!r} is more than a file's name; give the name alone, without a folder"
    if len(photo) > LONGEST_PHOTO:
        return f"the photo's name is longer than {LONGEST_PHOTO} characters; shorten it"
    return None


def called_problem(called: str) -> str | None:
    """Return why a variant cannot be called so, with the way out; None when it can; empty takes it back."""
    return chain_problem(called, of="variant") if called else None


def corrected_problem(chain: str) -> str | None:
    """Return why this can be no chain it was made through; an empty one takes a correction back."""
    return chain_problem(chain) if chain else None


def reason_problem(reason: str) -> str | None:
    """Return why this can be no reason for keeping, with the way out; none at all is one, too."""
    return words_problem(reason) if reason.strip() else None


def blend_problem(balance: Balance, microphones: Sequence[str]) -> str | None:
    """Return why a variant's microphones cannot be balanced so, with the way out; None when they can.

    Parameters
    ----------
    balance
        As it was said.
    microphones
        The names of the variant's returns.

    Returns
    -------
    str or None
        One sentence, naming those it has where another one was named.
    """
    named = (*(one.name for one in balance.faders), *balance.solo)
    strange = next((one for one in named if one not in microphones), None)
    if strange is not None:
        has = " and ".join(shown(one) for one in microphones) or "none"
        return f"it has no microphone {shown(strange)!r}; those it has: {has}"
    return balance_problem(balance)


def keeping_problem(
    *,
    kept: bool,
    keeper: bool | None,
    reason: str | None,
    discarded: bool | None,
) -> str | None:
    """Return why something of keeping and discarding cannot be said together; None when it can.

    Parameters
    ----------
    kept
        Whether it is a keeper so far.
    keeper
        Whether it is to be one; None leaves that.
    reason
        A reason that is said; None where none is.
    discarded
        Whether it is to be put out of sight; None leaves that.

    Returns
    -------
    str or None
        One sentence with the way out.
    """
    stays = kept if keeper is None else keeper
    if discarded and stays:
        return "a keeper is not discarded; say first that it is not kept any more"
    if reason is not None and not stays:
        return "it is no keeper that could have a reason; keep it, and say the reason with it"
    return None
