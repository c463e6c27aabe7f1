"""Files people write: wirings, sessions, settings."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Sequence
from pathlib import Path

import msgspec
from bad_kind import Kind, Wrong

from audio.session import extend
from audio.session.folder import open_session
from audio.session.model import parse_session, session_text
from audio.session.plans import with_entry
from audio.vocab.chain import AmpAsSet, Chain, Pedal
from audio.vocab.chain_file import extended, parse_chain
from audio.vocab.chain_text import chain_text
from audio.vocab.errors import UseError
from audio.vocab.plan_file import Known, entry_line, entry_text, parse_plan
from audio.vocab.session_file import Backing, Original, Part, Revision, SessionFile, Song
from audio.vocab.strict_yaml import Problems, read_text
from audio.vocab.wiring_file import parse_wiring, read_wiring
from audio.vocab.wiring_text import wiring_text
from tui.settings import read_settings

ROOT = Path(__file__).parents[2]
SHA = "0123456789abcdef" * 4

_SESSION = f"""\
# our session

format: 1
name: harbour lights   # working title
wiring: wiring.yaml
songs:
  # the single
  - name: harbour lights
    bpm: 92            # ask the drummer
    metre: 4/4
    song_start_s: 3600.5
    backing: {{file: backing/last-ferry.flac, file_sha256: {SHA}}}
    parts:
      - name: rhythm-left
        trim_db: -3    # the hot DI box
        revisions:
          - file: di/rhythm-left.r1.wav   # first edit
            channel: 2
            file_sha256: {SHA}
          # bar 12 is still late

      - name: hook
        # played by the other guitarist
        revisions:
        - file: di/hook.r1.wav
          file_sha256: {SHA}
        originals: [{{name: close, file: originals/hook.close.wav, file_sha256: {SHA}}}]
        # keep this
# the second song is not tracked yet
  - name: low tide
    parts:
# the end
"""
_FLOW = f"""\
{{format: 1, name: x, songs: [{{name: a, parts: [
  {{name: hook, revisions: [{{file: di/h.wav, file_sha256: {SHA}}},]}},  # ours
]}}]}}
"""
_PLAIN = "format: 1\r\nname: 'née'\r\nsongs:\r\n- name: \"a\\tb\"\r\n  parts: ~\r\n- {name: c}\r\n"
_SETTINGS = """\
# mine
countdown_s: 5
keys:
  go: f5
  walk_left: [left, f6]
  stop: "s"
"""
_WORDS = (
    *(b"format: 1", b"format: 2", b"name: ", b"songs:", b"parts:", b"revisions:", b"originals:"),
    *(
        b"file: ../../etc/passwd",
        b"file: /etc/passwd",
        b"file: C:\\x",
        b"channel: 0",
        b"null",
        b"~",
    ),
    *(
        b"'",
        b'"',
        b"|\n",
        b">-\n",
        b"? ",
        b": ",
        b"- ",
        b"&a ",
        b"*a",
        b"!!binary ",
        b"<<: *a",
        b"# ",
    ),
    *(
        b"---\n",
        b"...\n",
        b"%YAML 1.1\n",
        b"%YAML 9.9\n",
        b"%TAG ! x\n",
        b"[",
        b"]",
        b"{",
        b"}",
        b",",
    ),
    *(b"true", b"off", b"48000", b"kind: simulated", b"kind: portaudio", b"send: {output: 1}"),
    *(
        b"input: 2",
        b"reference: room",
        b"listen: {outputs: [3]}",
        b"keys:",
        b"go: q",
        b"  ",
        b"\r\n",
    ),
)


def kinds() -> tuple[Kind, ...]:
    """Return this file's kinds."""
    return (
        _yaml("wiring file", "wiring.yaml", _read_wiring, _wirings),
        _yaml("session.yaml", "session.yaml", _read_session, _sessions),
        _yaml("session.yaml, extended", "session.yaml", _extend, _sessions),
        _yaml("settings.yaml", "settings.yaml", _read_settings, lambda: [_SETTINGS.encode()]),
        _yaml("chain file", "crunch.yaml", _read_chain, _chains),
        _yaml("plan.yaml", "plan.yaml", _read_plan, _plans),
        _yaml("plan.yaml, added to", "plan.yaml", _add_to_plan, _plans),
    )


def _yaml(
    name: str, file: str, read: Callable[[Path], None], seeds: Callable[[], Sequence[bytes]]
) -> Kind:
    return Kind(
        *(name, file, read, seeds), extremes=_extremes, words=_WORDS, head=2000, many_lines=True
    )


def _wirings() -> list[bytes]:
    files = [ROOT / "demo" / "wiring.yaml", *sorted((ROOT / "configs" / "wirings").glob("*.yaml"))]
    return [file.read_bytes() for file in files]


def _chains() -> list[bytes]:
    folders = (ROOT / "demo" / "chains", ROOT / "configs" / "chains")
    return [file.read_bytes() for folder in folders for file in sorted(folder.glob("*.yaml"))]


def _plans() -> list[bytes]:
    short = b"passes:\n- part: hook\n  chain: crunch\n  bars: 5-8   # the hard one\n"
    return [(ROOT / "demo" / "plan.yaml").read_bytes(), short, b"", b"passes:\n"]


def _sessions() -> list[bytes]:
    return [_SESSION.encode(), _FLOW.encode(), _PLAIN.encode()]


def _extremes() -> list[bytes]:
    bomb = "a: &a [x,x,x,x,x,x,x,x,x]\n" + "".join(
        f"{new}: &{new} [{','.join([f'*{old}'] * 9)}]\n"
        for old, new in zip("abcdefgh", "bcdefghi", strict=True)
    )
    return [
        *(b"", b"\xef\xbb\xbf", b"\n" * 400_000, b" " * 400_000, b"#" * 400_000, b"\0" * 499_000),
        *(b"\x1b" * 400_000, b"\x85\n" * 100_000, "\x9b\n".encode() * 100_000, bomb.encode()),
        *(b"a: 1\n" * 90_000, b"- a\n" * 120_000, b"a,\n" * 120_000, b"[a]\n" * 90_000),
        *(b"".join(b"k%d: 1\n" % n for n in range(40_000)), b"&a " * 100_000, b"- &a x\n" * 60_000),
        *(b"[" * 400_000, b"{" * 400_000, b"- " * 200_000, b"? " * 200_000, b"a: {" * 100_000),
        *(b'"' + b"\\" * 399_000, b"'" * 400_000, b"x" * 499_000, b"name: " + b"x" * 400_000),
        *(
            b"1" * 400_000,
            b"k" * 200_000 + b": 1",
            b'"\\UFFFFFFFF"',
            b'"\\U00110000"',
            b"x" * 600_000,
        ),
        *(b"%YAML " + b"1" * 5000 + b".1\n--- a", b"%YAML 1." + b"1" * 5000 + b"\n--- a"),
        *(b"!<%FF> a", b"a: |" + b"9" * 5000, b"? " * 30 + b"a", b"*" + b"a" * 100_000),
        *(
            b"[1, " * 100_000,
            b"{a: b, " * 60_000,
            b"{a: 1, " * 5000 + b"}",
            b"[a, b]: c\n" * 30_000,
        ),
    ]


_BASE = Chain(
    name="crunch",
    pedals=(Pedal(name="tuner"), Pedal(name="drive", knobs={"gain": "1:00"})),
    amps=(AmpAsSet(input="normal"),),
)
_KNOWN = Known(
    parts={"last ferry": ("rhythm-left", "rhythm-right", "hook"), "rope of lamps": ("arpeggio",)},
    chains=("crunch", "tremolo"),
)


def _read_chain(path: Path) -> None:
    written = parse_chain(read_text(path), where=str(path), name="a chain")
    problems = Problems(str(path))
    chain = extended(written, _BASE, problems=problems) if written.chain.like else written.chain
    problems.check()
    again = parse_chain(chain_text(chain), where="again", name="again").chain
    if again != msgspec.structs.replace(chain, like=""):
        raise Wrong("a chain that was read is written otherwise")


def _read_plan(path: Path) -> None:
    plan = parse_plan(read_text(path), where=str(path), known=_KNOWN)
    if len({one.key for one in plan.wanted}) != len(plan.wanted):
        raise Wrong("two lines of a plan have the same key")


def _add_to_plan(path: Path) -> None:
    text = read_text(path)
    before = parse_plan(text, where=str(path), known=_KNOWN)
    fields = entry_text(["hook"], ["tremolo"], None)
    added = with_entry(text, entry_line(fields), where=str(path), known=_KNOWN)
    after = parse_plan(added, where="again", known=_KNOWN)
    if not added.startswith(text) or after.wanted[:-1] != before.wanted:
        raise Wrong("adding to a plan changed what was there")


def _read_wiring(path: Path) -> None:
    wiring = read_wiring(path)
    if parse_wiring(wiring_text(wiring), where="again") != wiring:
        raise Wrong("a wiring that was read, written and read again is another one")


def _read_session(path: Path) -> None:
    session = open_session(path.parent)
    if parse_session(session_text(session.file), where="again") != session.file:
        raise Wrong("a session that was read, written and read again is another one")
    for song in session.file.songs:
        for part in song.parts:
            for one in (*part.revisions, *part.originals):
                _inside(session.path(one.file), session.folder)


def _read_settings(path: Path) -> None:
    read_settings(path)


def _inside(path: Path, folder: Path) -> None:
    if not path.resolve().is_relative_to(folder.resolve()):
        raise Wrong(f"a path leaves the session's folder: {path}")


# ------------------------------------------------------------------ adding to session.yaml

_REVISION = Revision(file="di/new.r1.wav", channel=2, file_sha256="9" * 64)
_ORIGINAL = Original(name="new", file="originals/new.wav", file_sha256="9" * 64)
_PART = Part(name="a part: new", trim_db=-1.5, revisions=(_REVISION,))
_BACKING = Backing(file="backing/new.flac", file_sha256="9" * 64)
_SONG = Song(name="# new: 'song'", bpm=90.5, parts=(_PART,))


def _extend(path: Path) -> None:
    """Add one thing, drawn from the text; what comes back means the old content and the addition."""
    text, where = read_text(path), str(path)
    old = parse_session(text, where=where)
    additions = _additions(old)
    add, wanted = additions[zlib.crc32(text.encode()) % len(additions)]
    if (error := _added(text, add, wanted, where)) is not None:
        raise error


Adding = Callable[[str, str], str]


def _additions(old: SessionFile) -> list[tuple[Adding, SessionFile | None]]:
    """Return the ways to add, with what the file must mean then (worked out here, apart from `extend`)."""
    replace = msgspec.structs.replace
    found: list[tuple[Adding, SessionFile | None]] = [
        (
            lambda t, w: extend.with_song(t, _SONG, where=w),
            replace(old, songs=(*old.songs, _SONG)),
        ),
        (
            lambda t, w: extend.with_wiring(t, "wirings/new.yaml", where=w),
            replace(old, wiring="wirings/new.yaml"),
        ),
    ]
    for at, song in enumerate(old.songs):
        rest = old.songs[:at], old.songs[at + 1 :]
        new = replace(song, parts=(*song.parts, _PART))
        found.append(
            (
                lambda t, w, at=at: extend.with_part(t, at, _PART, where=w),
                replace(old, songs=(*rest[0], new, *rest[1])),
            )
        )
        if song.backing is None:
            new = replace(song, backing=_BACKING)
            found.append(
                (
                    lambda t, w, at=at: extend.with_backing(t, at, _BACKING, where=w),
                    replace(old, songs=(*rest[0], new, *rest[1])),
                )
            )
        for n, part in enumerate(song.parts):
            longer = replace(part, revisions=(*part.revisions, _REVISION))
            others = song.parts[:n], song.parts[n + 1 :]
            new = replace(song, parts=(*others[0], longer, *others[1]))
            found.append(
                (
                    lambda t, w, name=part.name: extend.with_revision(t, name, _REVISION, where=w),
                    replace(old, songs=(*rest[0], new, *rest[1])),
                )
            )
            longer = replace(part, originals=(*part.originals, _ORIGINAL))
            new = replace(song, parts=(*others[0], longer, *others[1]))
            found.append(
                (
                    lambda t, w, name=part.name: extend.with_original(t, name, _ORIGINAL, where=w),
                    replace(old, songs=(*rest[0], new, *rest[1])),
                )
            )
    return found


def _added(text: str, add: Adding, wanted: SessionFile | None, where: str) -> UseError | None:
    """Add once; return the refusal, None where the text was extended rightly."""
    try:
        new = add(text, where)
    except UseError as error:
        return error
    if parse_session(new, where="new") != wanted:
        raise Wrong("an extended session means something else than the old one and the addition")
    before = _common(text, new)
    kept = before + _common(text[before:][::-1], new[before:][::-1])
    gone = text[before : len(text) - (kept - before)]
    if gone.strip() not in ("", "null", "~") and "wirings/new.yaml" not in new:
        raise Wrong(f"adding to a session took {gone[:80]!r} away")
    return None


def _common(one: str, other: str) -> int:
    """Return how many characters two texts begin with alike."""
    low, high = 0, min(len(one), len(other))
    while low < high:
        middle = (low + high + 1) // 2
        if one[:middle] == other[:middle]:
            low = middle
        else:
            high = middle - 1
    return low
