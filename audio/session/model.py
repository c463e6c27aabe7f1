"""``session.yaml``: songs and parts, as values and as text; every mistake reported with its line."""

from __future__ import annotations

import re
import unicodedata

import msgspec

from audio.vocab.characters import is_hidden, shown
from audio.vocab.form import D, Form
from audio.vocab.names import is_inside, name_problem, twin_key
from audio.vocab.session_file import (
    Backing,
    Original,
    Part,
    Recorded,
    Revision,
    SessionFile,
    Song,
)
from audio.vocab.strict_yaml import Node, Problems, load
from audio.vocab.wiring_file import MOST_CHANNELS, full_scale_dbu
from audio.vocab.yaml_text import block, scalar

FORMAT = 1
"""What this program writes; a session with a higher one was made by a newer program."""

TRIM_DB = (-60, 24)
"""Range of a part's trim, decibels."""

BPM = (20, 400)
"""Range of a tempo, quarter notes a minute."""

PAD_DB = (-60, 0)
"""Range of what box and pad took away ahead of a DI's input, decibels."""

SONG_START_S = (0, 86400)
"""Where bar 1 can lie on the recorder's timeline, which begins at midnight, seconds."""

LONGEST_NOTE = 200
"""Characters of a note on how a part was recorded."""

LONGEST_NAME = 80
"""Characters of a session's and a song's name."""

_SHA256 = re.compile(r"[0-9a-f]{64}")
_METRE = re.compile(r"[1-9][0-9]?/(1|2|4|8|16|32)")


def title_problem(name: str) -> str | None:
    """Return what is wrong with the name of a session or song, with the way out; None if nothing is."""
    if not name.strip():
        return "the name is empty; give it one letter at least"
    if any(is_hidden(c) for c in name):
        return f"the name {shown(name)!r} has a hidden character in it; type it again"
    if len(name) > LONGEST_NAME:
        return f"the name {name[:20]}… is longer than {LONGEST_NAME} characters; shorten it"
    return None


def song_problem(song: Song) -> str | None:
    """Return what is wrong with a song that no file holds yet, with the way out; None if nothing is."""
    if problem := title_problem(song.name):
        return problem
    if song.bpm is not None and not BPM[0] <= song.bpm <= BPM[1]:
        way_out = f"give quarter notes a minute, from {BPM[0]} to {BPM[1]}"
        return f"a tempo of {song.bpm:g} is out of range; {way_out}"
    if song.metre is not None and not _METRE.fullmatch(song.metre):
        return f"{shown(song.metre)!r} is no metre; give beats and note value, such as 4/4"
    at, (low, high) = song.song_start_s, SONG_START_S
    if at is not None and not low <= at <= high:
        way_out = f"give seconds on the recorder's timeline, from {low} to {high}"
        return f"bar 1 at {at:g} s is out of range; {way_out}"
    return None


def parse_session(text: str, *, where: str) -> SessionFile:
    """Read ``session.yaml``; `UseError` with a line for each mistake in it if there is any.

    Parameters
    ----------
    text
        The file's text.
    where
        The file's name for messages.

    Returns
    -------
    SessionFile
        Its content.
    """
    return read_session(text, where=where)[0]


def read_session(text: str, *, where: str) -> tuple[SessionFile, Node]:
    """Read as `parse_session` does; return also where each value stands in the text."""
    problems = Problems(where)
    root = load(text, problems=problems)
    _refuse_newer(root, problems)
    keys = ("format", "name", "wiring", "songs")
    form = Form(root, problems=problems, what="", keys=keys, example="name: …, songs: …")
    form.whole("format", low=1, high=FORMAT, default=FORMAT, required=True)
    file = SessionFile(
        name=form.text(
            "name", default="", required=True, longest=LONGEST_NAME, example="harbour lights"
        ),
        wiring=_path(form, "wiring", example="wiring.yaml", default=None),
        songs=tuple(_song(node, problems) for node in form.items("songs", example="[…]")),
    )
    problems.check()
    _refuse_twins(root, file, problems)
    problems.check()
    return file, root


def session_text(file: SessionFile) -> str:
    """Return the text of a new ``session.yaml`` that `parse_session` reads back to the same value."""
    lines = [
        "# Songs and parts of this session. Yours to edit: the program only ever adds to this file",
        "# and leaves your lines and comments as they are. Recorded passes lie in passes/.",
        *block({"format": FORMAT, "name": file.name}),
        *([f"wiring: {scalar(file.wiring)}"] if file.wiring else []),
        "songs:",
    ]
    for song in file.songs:
        first, *rest = block(song_fields(song))
        lines += [f"  - {first}", *(f"    {line}" for line in rest)]
        lines += [] if song.parts else ["    parts:   # `secondpass add` writes them here"]
    return "\n".join(lines) + "\n"


def song_fields(song: Song) -> dict[str, object]:
    """Return a song as it is written: without what was left out."""
    fields = {
        key: getattr(song, key) for key in ("name", "bpm", "metre", "tempo_file", "song_start_s")
    }
    fields["backing"] = None if song.backing is None else backing_fields(song.backing)
    fields["parts"] = [part_fields(part) for part in song.parts]
    return {key: value for key, value in fields.items() if value not in (None, [])}


def backing_fields(backing: Backing) -> dict[str, object]:
    """Return a backing track as it is written."""
    return msgspec.structs.asdict(backing)


def part_fields(part: Part) -> dict[str, object]:
    """Return a part as it is written."""
    fields: dict[str, object] = {"name": part.name, "trim_db": part.trim_db}
    fields["revisions"] = [msgspec.structs.asdict(one) for one in part.revisions]
    if part.originals:
        fields["originals"] = [msgspec.structs.asdict(one) for one in part.originals]
    if part.recorded is not None:
        known = msgspec.structs.asdict(part.recorded)
        fields["recorded"] = {key: value for key, value in known.items() if value is not None}
    return fields


# ------------------------------------------------------------------ fields


def _song(node: Node, problems: Problems) -> Song:
    keys = ("name", "bpm", "metre", "tempo_file", "song_start_s", "backing", "parts")
    form = Form(node, problems=problems, what="song", keys=keys, example="{name: harbour lights}")
    metre = form.text("metre", default=None, longest=8, example="4/4")
    if metre is not None and not _METRE.fullmatch(metre):
        form.fail("metre", f"song metre is {metre!r}; write beats and note value, metre: 4/4")
    return Song(
        name=form.text(
            "name", default="", required=True, longest=LONGEST_NAME, example="harbour lights"
        ),
        bpm=form.number("bpm", low=BPM[0], high=BPM[1], default=None),
        metre=metre,
        tempo_file=_path(form, "tempo_file", example="tempo.mid", default=None),
        song_start_s=form.number(
            "song_start_s", low=SONG_START_S[0], high=SONG_START_S[1], default=None
        ),
        backing=_backing(form),
        parts=tuple(_part(one, problems) for one in form.items("parts", example="[…]")),
    )


def _backing(song: Form) -> Backing | None:
    example = "{file: backing/last-ferry.flac, file_sha256: …}"
    form = song.section("backing", keys=("file", "file_sha256"), example=example)
    if form is None:
        return None
    example = "backing/last-ferry.flac"
    return Backing(
        file=_path(form, "file", example=example, default="", required=True),
        file_sha256=_checksum(form),
    )


def _part(node: Node, problems: Problems) -> Part:
    keys = ("name", "trim_db", "revisions", "originals", "recorded")
    form = Form(node, problems=problems, what="part", keys=keys, example="{name: rhythm-left}")
    revisions = form.items("revisions", required=True, example="[{file: di/rhythm-left.r1.wav}]")
    if form.has("revisions") and not revisions:
        form.fail("revisions", "the part has no DI; add one with `secondpass add`")
    return Part(
        name=_file_name(form, "part"),
        trim_db=form.number("trim_db", low=TRIM_DB[0], high=TRIM_DB[1], default=0.0),
        revisions=tuple(_revision(one, problems) for one in revisions),
        originals=tuple(_original(one, problems) for one in form.items("originals", example="[…]")),
        recorded=_recorded(form),
    )


def _recorded(part: Form) -> Recorded | None:
    keys = ("input", "box", "pad_db", "gain", "full_scale_dbu")
    form = part.section("recorded", keys=keys, example="{input: 1, box: passive DI}")
    if form is None:
        return None
    return Recorded(
        input=form.whole(
            "input", low=1, high=MOST_CHANNELS, default=None, note="; channels count from 1"
        ),
        box=form.text("box", default=None, longest=LONGEST_NOTE, example="passive DI"),
        pad_db=form.number("pad_db", low=PAD_DB[0], high=PAD_DB[1], default=None),
        gain=form.text("gain", default=None, longest=LONGEST_NOTE, example="12 o'clock"),
        full_scale_dbu=full_scale_dbu(form),
    )


def _revision(node: Node, problems: Problems) -> Revision:
    keys = ("file", "channel", "file_sha256")
    example = "{file: di/rhythm-left.r1.wav, channel: 1}"
    form = Form(node, problems=problems, what="revision", keys=keys, example=example)
    return Revision(
        file=_path(form, "file", example="di/rhythm-left.r1.wav", default="", required=True),
        channel=_channel(form),
        file_sha256=_checksum(form),
    )


def _original(node: Node, problems: Problems) -> Original:
    keys = ("name", "file", "channel", "file_sha256")
    example = "{name: close, file: originals/rhythm-left.close.wav}"
    form = Form(node, problems=problems, what="original", keys=keys, example=example)
    return Original(
        name=_file_name(form, "original"),
        file=_path(
            form, "file", example="originals/rhythm-left.close.wav", default="", required=True
        ),
        channel=_channel(form),
        file_sha256=_checksum(form),
    )


def _channel(form: Form) -> int:
    return form.whole("channel", low=1, high=64, default=1, note="; channels count from 1")


def _checksum(form: Form) -> str:
    value = form.text("file_sha256", default="", required=True, example="(64 digits)")
    if value and not _SHA256.fullmatch(value):
        text = "file_sha256 is no SHA-256 checksum (64 digits 0-9a-f)"
        form.fail("file_sha256", f"{text}; restore the line, or add the file again")
    return value


def _file_name(form: Form, what: str) -> str:
    name = form.text("name", default="", required=True, example="rhythm-left")
    name = unicodedata.normalize("NFC", name)
    if name and (problem := name_problem(name)):
        form.fail("name", f"{what}: {problem}")
    return name


def _path(form: Form, key: str, *, example: str, default: D, required: bool = False) -> str | D:
    value = form.text(key, default=default, required=required, longest=400, example=example)
    if isinstance(value, str) and value and not is_inside(value):
        text = f"{key} {shown(value)!r} is no path inside the session's folder"
        form.fail(key, f"{text}; write it from there with forward slashes, {key}: {example}")
    return value


# ------------------------------------------------------------------ across the file


def _refuse_newer(root: Node, problems: Problems) -> None:
    node = root.value.get("format") if isinstance(root.value, dict) else None
    if node is not None and isinstance(node.value, int) and node.value > FORMAT:
        text = f"the session was written by a newer program (format {node.value}, known: {FORMAT})"
        problems.stop(node.line, f"{text}; update this program, nothing was changed")


def _refuse_twins(root: Node, file: SessionFile, problems: Problems) -> None:
    """Refuse names that some disk would take for one: parts of the session, originals of a part."""
    seen: dict[str, str] = {}
    for song, song_node in zip(file.songs, items_of(root, "songs"), strict=True):
        for part, node in zip(song.parts, items_of(song_node, "parts"), strict=True):
            _note_twin(part.name, node, seen, "parts", problems)
            names: dict[str, str] = {}
            for original, at in zip(part.originals, items_of(node, "originals"), strict=True):
                _note_twin(original.name, at, names, "originals", problems)


def _note_twin(name: str, node: Node, seen: dict[str, str], what: str, problems: Problems) -> None:
    if twin := seen.get(twin_key(name)):
        line = node.key_lines.get("name", node.line)
        problems.add(line, f"{what} {twin!r} and {name!r} would share their files; rename one")
    seen[twin_key(name)] = name


def items_of(node: Node, key: str) -> tuple[Node, ...]:
    """Return the nodes of the list that a mapping has under `key`, none where there is no such list."""
    listed = node.value.get(key) if isinstance(node.value, dict) else None
    return listed.value if listed is not None and isinstance(listed.value, tuple) else ()
