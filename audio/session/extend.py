"""Adding to ``session.yaml`` by inserting lines: every character the engineer wrote stays.

The new text is read back before anyone writes it: it must mean the old content plus the addition. Where
a file is written in a way that cannot be added to, the engineer is told which lines to add by hand.
"""

from __future__ import annotations

from collections.abc import Mapping, ValuesView

import msgspec

from audio.session.model import (
    backing_fields,
    items_of,
    parse_session,
    part_fields,
    read_session,
    song_fields,
)
from audio.vocab.errors import UseError
from audio.vocab.session_file import Backing, Original, Part, Revision, SessionFile, Song
from audio.vocab.strict_yaml import Node
from audio.vocab.yaml_text import BLOCK_STEP, block_item, flow, scalar

Fields = Mapping[str, object]


def with_song(text: str, song: Song, *, where: str) -> str:
    """Return the text with a song at the end, its parts included; `UseError` if it cannot be."""
    file, root = read_session(text, where=where)
    wanted = msgspec.structs.replace(file, songs=(*file.songs, song))
    return _with_one_more(text, root, "songs", song_fields(song), wanted=wanted, where=where)


def with_backing(text: str, song: int, backing: Backing, *, where: str) -> str:
    """Return the text with the backing track of the song at index `song`; `UseError` if it cannot be."""
    file, root = read_session(text, where=where)
    refuse_second_backing(file.songs[song], where=where)
    new = msgspec.structs.replace(file.songs[song], backing=backing)
    mapping, value = _node_of(root, song), flow(backing_fields(backing))
    wanted = _with_song(file, song, new)
    return _with_value(text, mapping, "backing", value, "parts", wanted=wanted, where=where)


def refuse_second_backing(song: Song, *, where: str) -> None:
    """Raise `UseError` if a song has a backing track: what the file says is never replaced."""
    if song.backing is not None:
        raise UseError(
            f"{where}: song {song.name!r} has a backing track already, {song.backing.file}; take it out of "
            "the file first (the recording itself stays), then add the new one"
        )


def with_tempo(text: str, song: int, file: str, *, metre: str | None, where: str) -> str:
    """Return the text with the tempo file of the song at index `song`; `UseError` if it cannot be.

    Parameters
    ----------
    text
        Text of ``session.yaml``.
    song
        Which song.
    file
        Relative to the session's folder.
    metre
        Written with it, where the song has none; None leaves it as it is.
    where
        The file's name for messages.

    Returns
    -------
    str
        The text with one or two lines more.
    """
    for key, value in (("metre", metre), ("tempo_file", file)):
        was, root = read_session(text, where=where)
        refuse_second_tempo(was.songs[song], where=where)
        if value is not None:
            new = msgspec.structs.replace(was.songs[song], **{key: value})
            wanted = _with_song(was, song, new)
            text = _with_value(
                text, _node_of(root, song), key, scalar(value), "parts", wanted=wanted, where=where
            )
    return text


def refuse_second_tempo(song: Song, *, where: str) -> None:
    """Raise `UseError` if a song has a tempo file: what the file says is never replaced."""
    if song.tempo_file is not None:
        raise UseError(
            f"{where}: song {song.name!r} has a tempo file already, {song.tempo_file}; take it out of the"
            " file first, then add the new one"
        )


def with_wiring(text: str, wiring: str, *, where: str) -> str:
    """Return the text with another wiring file named, in the place of the old; `UseError` if it cannot.

    Parameters
    ----------
    text
        Text of ``session.yaml``.
    wiring
        Relative to the session's folder.
    where
        The file's name for messages.

    Returns
    -------
    str
        The text; only the value of its key ``wiring`` differs, or the line was added.
    """
    file, root = read_session(text, where=where)
    wanted = msgspec.structs.replace(file, wiring=wiring)
    return _with_value(text, root, "wiring", scalar(wiring), "songs", wanted=wanted, where=where)


def with_part(text: str, song: int, part: Part, *, where: str) -> str:
    """Return the text with a part added to the song at index `song`; `UseError` if it cannot be."""
    file, root = read_session(text, where=where)
    old = file.songs[song]
    new = msgspec.structs.replace(old, parts=(*old.parts, part))
    mapping = _node_of(root, song)
    wanted = _with_song(file, song, new)
    return _with_one_more(text, mapping, "parts", part_fields(part), wanted=wanted, where=where)


def with_revision(text: str, part: str, revision: Revision, *, where: str) -> str:
    """Return the text with a revision added to a part; `UseError` if it cannot be."""
    return _of_part(text, part, "revisions", revision, where=where)


def with_original(text: str, part: str, original: Original, *, where: str) -> str:
    """Return the text with an original added to a part; `UseError` if it cannot be."""
    return _of_part(text, part, "originals", original, where=where)


def with_trim(text: str, part: str, trim_db: float, *, where: str) -> str:
    """Return the text with another trim of a part; `UseError` if it cannot be.

    Parameters
    ----------
    text
        Text of ``session.yaml``.
    part
        The part's name.
    trim_db
        Gain of its DI on its way out.
    where
        The file's name for messages.

    Returns
    -------
    str
        The text; only the value of the part's key ``trim_db`` differs, or the line was added.
    """
    file, root = read_session(text, where=where)
    song, at = _find(file, part, where)
    new = msgspec.structs.replace(file.songs[song].parts[at], trim_db=trim_db)
    wanted = _with_part(file, song, at, new)
    mapping, value = _node_of(root, song, at), scalar(trim_db)
    return _with_value(text, mapping, "trim_db", value, "revisions", wanted=wanted, where=where)


def _of_part(text: str, part: str, key: str, one: Revision | Original, *, where: str) -> str:
    file, root = read_session(text, where=where)
    song, at = _find(file, part, where)
    old = file.songs[song].parts[at]
    new = msgspec.structs.replace(old, **{key: (*getattr(old, key), one)})
    wanted = _with_part(file, song, at, new)
    mapping, item = _node_of(root, song, at), msgspec.structs.asdict(one)
    return _with_one_more(text, mapping, key, item, wanted=wanted, where=where)


def _with_part(file: SessionFile, song: int, at: int, part: Part) -> SessionFile:
    there = file.songs[song].parts
    parts = (*there[:at], part, *there[at + 1 :])
    return _with_song(file, song, msgspec.structs.replace(file.songs[song], parts=parts))


def _with_song(file: SessionFile, at: int, song: Song) -> SessionFile:
    songs = tuple(song if i == at else s for i, s in enumerate(file.songs))
    return msgspec.structs.replace(file, songs=songs)


def _find(file: SessionFile, part: str, where: str) -> tuple[int, int]:
    for song, one in enumerate(file.songs):
        for at, its_part in enumerate(one.parts):
            if its_part.name == part:
                return song, at
    raise UseError(f"{where}: part {part!r} is not there any more; add it again")


def _node_of(root: Node, song: int, part: int | None = None) -> Node:
    node = items_of(root, "songs")[song]
    return node if part is None else items_of(node, "parts")[part]


def _with_one_more(
    text: str, mapping: Node, key: str, item: Fields, *, wanted: SessionFile, where: str
) -> str:
    """Return the text with one more in the list `key` of a mapping, verified."""
    new = _with_item(text, mapping, key, item)
    if _means(new, where) == wanted:
        return new
    lines = "\n".join(f"    {line}" for line in block_item(item))
    raise UseError(
        f"{where}, line {mapping.line}: nothing can be added under {key!r} without disturbing how the "
        f"file is written; add these lines there yourself, indented alike:\n{lines}"
    )


def _with_value(
    text: str, mapping: Node, key: str, value: str, before: str, *, wanted: SessionFile, where: str
) -> str:
    """Return the text with one value of a mapping, where its key was or ahead of `before`, verified."""
    new = _with_line(text, mapping, key, value, before)
    if _means(new, where) == wanted:
        return new
    line = mapping.key_lines.get(key, mapping.line)
    raise UseError(
        f"{where}, line {line}: {key!r} cannot be written there without disturbing how the file is "
        f"written; write this line there yourself, indented alike: {key}: {value}"
    )


def _means(text: str, where: str) -> SessionFile | None:
    try:
        return parse_session(text, where=where)
    except UseError:
        return None


# ------------------------------------------------------------------ inserting


def _with_item(text: str, mapping: Node, key: str, item: Fields) -> str:
    """Return the text with the item at the end of the list `key` of a mapping."""
    listed = mapping.value.get(key) if isinstance(mapping.value, dict) else None
    if listed is None and mapping.flow:
        return _in_brackets(text, mapping, f"{key}: [{flow(item)}]")
    if listed is None:
        lines = [f"{key}:", *_indented(block_item(item), BLOCK_STEP)]
        return _after(text, mapping, _indented(lines, mapping.column))
    if listed.flow:
        return _in_brackets(text, listed, flow(item))
    if listed.value is None:
        return _in_place_of_nothing(text, mapping, listed, item)
    return _after(text, listed, _indented(block_item(item), listed.column))


def _with_line(text: str, mapping: Node, key: str, value: str, before: str) -> str:
    entries = mapping.value if isinstance(mapping.value, dict) else {}
    if (old := entries.get(key)) is not None:
        gap = "" if old.end > old.start else " "
        return f"{text[: old.start]}{gap}{value}{text[old.end :]}"
    if mapping.flow:
        return _in_brackets(text, mapping, f"{key}: {value}")
    above = [node for name, node in entries.items() if name != before]
    at = _next_line(text, _content_end(max(above, key=lambda node: node.start)))
    at = _after_its_comments(text, at, mapping.column)
    return _inserted(text, at, _indented([f"{key}: {value}"], mapping.column))


def _in_place_of_nothing(text: str, mapping: Node, nothing: Node, item: Fields) -> str:
    written = nothing.end > nothing.start
    if written or mapping.flow:
        gap = "" if written else " "
        return f"{text[: nothing.start]}{gap}[{flow(item)}]{text[nothing.end :]}"
    lines = _indented(block_item(item), mapping.column + BLOCK_STEP)
    return _inserted(text, _next_line(text, nothing.end), lines)


def _in_brackets(text: str, node: Node, addition: str) -> str:
    """Return the text with one more behind the last in brackets, before a comma that may follow it."""
    at = _last_end(node) if node.value else node.end - 1
    return f"{text[:at]}{', ' if node.value else ''}{addition}{text[at:]}"


def _after(text: str, node: Node, lines: list[str]) -> str:
    at = _next_line(text, _content_end(node))
    return _inserted(text, _after_its_comments(text, at, node.column), lines)


def _content_end(node: Node) -> int:
    """Return the index after the last character of content; a block's own end lies past comments."""
    return node.end if node.flow or not node.value else _last_end(node)


def _last_end(node: Node) -> int:
    items = node.value.values() if isinstance(node.value, dict) else node.value
    return _content_end(list(items)[-1]) if isinstance(items, (tuple, ValuesView)) else node.end


def _next_line(text: str, at: int) -> int:
    """Return where the line after index `at` begins; `at` itself if a block scalar ended there."""
    if at and text[at - 1] == "\n":
        return at
    end = text.find("\n", at)
    return len(text) if end < 0 else end + 1


def _after_its_comments(text: str, at: int, column: int) -> int:
    """Return where the comments end that are indented deeper than `column`: they belong above."""
    end = at
    for line in text[at:].splitlines(keepends=True):
        stripped = line.strip()
        indent = len(line) - len(line.lstrip(" "))
        if stripped and not (stripped.startswith("#") and indent > column):
            break
        at += len(line)
        end = at if stripped else end
    return end


def _inserted(text: str, at: int, lines: list[str]) -> str:
    line_end = "\r\n" if "\r\n" in text else "\n"
    open_line = at > 0 and text[at - 1] != "\n"
    addition = line_end.join(lines) + line_end
    return f"{text[:at]}{line_end if open_line else ''}{addition}{text[at:]}"


def _indented(lines: list[str], spaces: int) -> list[str]:
    return [" " * spaces + line for line in lines]
