"""DI: songs, parts, and which of them is played next."""

from __future__ import annotations

from collections.abc import Callable

from rich.text import Text

from audio.vocab.session_file import Part, Song
from audio.vocab.tempo import SongTempo
from audio.vocab.units import clock_time
from tui.model import Model
from tui.present.check_words import state_words
from tui.present.glyphs import cells_of, cut
from tui.present.looks import (
    ACCENT,
    BAD,
    FAINT,
    HERE,
    STRONG,
    VERDICT_LOOKS,
    paragraph,
    text,
    window,
)
from tui.present.plain import level
from tui.present.tempo import tempo_words

KEYS = (
    ("choose_up+choose_down", "part"),
    ("go", ""),
    ("enter", "ready?"),
    ("zoom_in+zoom_out+whole", "zoom"),
    ("walk_left+walk_right", "walk"),
    ("keys", ""),
    ("scroll_left+scroll_right", "scroll"),
    ("section", ""),
)

EMPTY = (
    "A DI is the dry, edited guitar that is sent through the amp. This session has none yet.",
    "Leave with {quit}, add one, and open the session again:",
    "secondpass add {folder} --di rhythm-left.wav",
)

KEYS_EMPTY = (("quit", ""), ("walk_left+walk_right", "walk"), ("keys", ""))


def lines(model: Model, columns: int, rows: int, *, key: Callable[[str], str]) -> list[Text]:
    """Return the list of parts, the chosen one always in sight, in at most so many rows."""
    parts = model.parts()
    if not parts:
        folder = model.snapshot.folder if model.snapshot else "DIR"
        words = " ".join(EMPTY).format(folder=folder, quit=key("quit"))
        return [text(), *paragraph(words, columns)]
    names = max(cells_of(part.name) for _, part in parts)
    listed: list[Text] = []
    at, song_before = 0, None
    for song, part in parts:
        if song is not song_before:
            listed.append(_song(song, model.tempo(song), columns))
            song_before = song
        if part.name == model.part:
            at = len(listed)
        listed.append(_part(model, part, min(names, 32)))
    return window(listed, at, rows)


def _song(song: Song, tempo: SongTempo, columns: int) -> Text:
    backing = "   backing track" if song.backing is not None else ""
    head = text(" ", (song.name, ACCENT))
    if tempo.problem:
        said = cut(f"   × {tempo.problem}", max(columns - cells_of(head.plain + backing), 0))
        return head + text((said, BAD), (backing, FAINT))
    told = tempo_words(song, tempo) or f"tempo not given {song.metre or ''}"
    return head + text((f"   {told}{backing}", FAINT))


def _ready(model: Model, part: Part) -> Text:
    """Return whether a DI is ready, in a word; nothing while it is being looked through."""
    checked = model.checks.of(part.name)
    if checked is None:
        problem = model.checks.problem(part.name)
        return text((f"  {cut(problem, 40)}" if problem else "", FAINT))
    accepted = "" if checked.open_worst or checked.verdict != "redo" else ", noted"
    return text((f"  {state_words(checked)}{accepted}", VERDICT_LOOKS[checked.verdict]))


def _part(model: Model, part: Part, names: int) -> Text:
    here = part.name == model.part
    line = text(("  ▸ " if here else "    "), (cut(part.name, names), HERE if here else STRONG))
    read = model.dis.get(part.name)
    if read is None:
        return line + text(("   reading …", FAINT))
    if read.problem or read.facts is None:
        return line + text("   ", (f"× {read.problem}", BAD))
    facts = read.facts
    length = clock_time(facts.frames / facts.sample_rate)
    line += text(f"  {length:>5}", (f"  peak {level(facts.peak_dbfs)} dBFS", FAINT))
    if len(part.revisions) > 1:
        line += text((f"  revision {len(part.revisions)}", FAINT))
    line += _ready(model, part)
    count = len(model.variants_of(part.name))
    if count:
        line += text((f"  {count} {'variant' if count == 1 else 'variants'}", FAINT))
    if part.originals:
        line += text((f"  original {', '.join(one.name for one in part.originals)}", FAINT))
    return line
