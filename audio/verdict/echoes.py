"""What a chain repeats, told beside the song's note values; never a fault."""

from __future__ import annotations

from audio.grid.note_values import nearest
from audio.vocab.findings import Finding
from audio.vocab.results import Echo


def repeats(echo: Echo | None, *, bpm: float | None) -> tuple[Finding, ...]:
    """Return what is said of a chain's echoes; nothing where it has none.

    Parameters
    ----------
    echo
        What the opening click told.
    bpm
        The song's tempo, quarter notes a minute; None where it has none.

    Returns
    -------
    tuple of Finding
        One that informs only, or none.
    """
    if echo is None:
        return ()
    text = f"repeats every {echo.repeat_ms:.1f} ms{_note(echo.repeat_ms, bpm)}"
    return (Finding(code="echo", weight="good", text=text),)


def _note(ms: float, bpm: float | None) -> str:
    note = nearest(ms, bpm=bpm) if bpm else None
    if note is None or bpm is None:
        return ""
    article = "an" if note.name[0] in "aeiou" else "a"
    return f"; {article} {note.name} at {round(bpm, 2):g} bpm is {note.ms:.1f}"
