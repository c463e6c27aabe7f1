"""DI: songs, parts, and which of them is played next."""

from __future__ import annotations

from collections.abc import Callable

from rich.text import Text

from audio.vocab.session_file import Part, Song
from audio.vocab.units import clock_time
from tui.model import Model
from tui.present.glyphs import cells_of, cut
from tui.present.looks import ACCENT, BAD, FAINT, HERE, STRONG, paragraph, text, window
from tui.present.plain import level

KEYS = (
    ("choose_up+choose_down", "part"),
    ("go", ""),
    ("zoom_in+zoom_out+whole", "zoom"),
    ("scroll_left+scroll_right", "scroll"),
    ("walk_left+walk_right", "walk"),
    ("keys", ""),
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
            listed.append(_song(song))
            song_before = song
        if part.name == model.part:
            at = len(listed)
        listed.append(_part(model, part, min(names, 32)))
    return window(listed, at, rows)


def _song(song: Song) -> Text:
    bpm = f"   {song.bpm:g} bpm" if song.bpm is not None else "   tempo not given"
    backing = "   backing track" if song.backing is not None else ""
    return text(" ", (song.name, ACCENT), (f"{bpm} {song.metre or ''}{backing}", FAINT))


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
    count = len(model.variants_of(part.name))
    if count:
        line += text((f"  {count} {'variant' if count == 1 else 'variants'}", FAINT))
    if part.originals:
        line += text((f"  original {', '.join(one.name for one in part.originals)}", FAINT))
    return line
