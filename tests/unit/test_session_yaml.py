"""``session.yaml``: read strictly, and only ever extended."""

import textwrap

import msgspec
import pytest
import typed
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from audio.session import extend
from audio.session.model import parse_session, session_text
from audio.vocab.errors import UseError
from audio.vocab.names import name_problem, twin_key
from audio.vocab.session_file import Backing, Original, Part, Revision, SessionFile, Song

SHA = "0123456789abcdef" * 4
OTHER = "9" * 64

BLOCK = f"""\
# our session

format: 1
name: harbour lights   # working title
songs:
  # the single
  - name: harbour lights
    bpm: 92            # ask the drummer
    metre: 4/4
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
        # keep this
# the second song is not tracked yet
  - name: low tide
    parts:
# the end
"""

FLOW = f"""\
{{format: 1, name: x, songs: [{{name: a, parts: [
  {{name: hook, revisions: [{{file: di/h.wav, file_sha256: {SHA}}},]}},  # ours
]}}]}}
"""

revision = Revision(file="di/new.wav", channel=1, file_sha256=OTHER)
original = Original(name="close", file="originals/new.close.wav", file_sha256=OTHER)
backing = Backing(file="backing/new.flac", file_sha256=OTHER)
new_part = Part(name="new part", trim_db=-1.5, revisions=(revision,))


def parsed(text: str) -> SessionFile:
    return parse_session(text, where="session.yaml")


def mistakes(text: str) -> list[str]:
    with pytest.raises(UseError) as caught:
        parsed(text)
    return str(caught.value).splitlines()


def is_inserted(old: str, new: str) -> bool:
    """Return whether `new` is `old` with one stretch of text put in."""
    start = next((i for i, (a, b) in enumerate(zip(old, new, strict=False)) if a != b), len(old))
    return new.endswith(old[start:]) and len(new) > len(old)


# ------------------------------------------------------------------ reading


def test_reads_songs_parts_revisions_and_fills_in_what_was_left_out() -> None:
    file = parsed(BLOCK)
    assert file.name == "harbour lights"
    assert file.wiring is None
    assert [song.name for song in file.songs] == ["harbour lights", "low tide"]
    assert file.songs[0].bpm == 92
    assert file.songs[0].metre == "4/4"
    left, hook = file.songs[0].parts
    assert left.trim_db == -3
    assert left.revisions == (Revision(file="di/rhythm-left.r1.wav", channel=2, file_sha256=SHA),)
    assert hook.trim_db == 0
    assert hook.revisions[0].channel == 1
    assert file.songs[1].parts == ()


@pytest.mark.parametrize(
    ("line", "to", "number", "says"),
    [
        ("format: 1\n", "", 3, "format is missing"),
        ("format: 1", "format: x", 3, "format is 'x'"),
        ("bpm: 92", "bpm: 920", 8, "from 20 to 400"),
        ("bpm: 92", "bmp: 92", 8, "did you mean bpm?"),
        ("metre: 4/4", "backing: x.flac", 9, "write backing: {file: backing/last-ferry.flac"),
        ("metre: 4/4", f"backing: {{file_sha256: {SHA}}}", 9, "song backing file is missing"),
        ("metre: 4/4", f"backing: {{file: ../x, file_sha256: {SHA}}}", 9, "no path inside"),
        ("metre: 4/4", "backing: {file: x.flac}", 9, "song backing file_sha256 is missing"),
        ("metre: 4/4", "song_start_s: -1", 9, "from 0 to 86400"),
        ("metre: 4/4", "metre: 4/5", 9, "write beats and note value"),
        ("metre: 4/4", "metre: 44", 9, "put it in quotes"),
        ("trim_db: -3", "trim_db: 30", 12, "did you mean -30?"),
        ("name: rhythm-left", "name: ../left", 11, "a dash instead"),
        ("name: rhythm-left", "name: CON", 11, "kept by Windows"),
        ("name: rhythm-left", "name: Hook", 19, "'Hook' and 'hook' would share their files"),
        ("file: di/hook.r1.wav", "file: /etc/passwd", 22, "no path inside the session's folder"),
        ("file: di/hook.r1.wav", "file: di/../../x.wav", 22, "no path inside"),
        ("file: di/hook.r1.wav", "file: C:/x.wav", 22, "no path inside"),
        ("file: di/hook.r1.wav", "file: di\\x.wav", 22, "forward slashes"),
        ("channel: 2", "channel: 0", 15, "channels count from 1"),
        (f"            file_sha256: {SHA}\n", "            file_sha256: abc\n", 16, "no SHA-256"),
        ("- name: low tide", "- nam: low tide", 26, "did you mean name?"),
    ],
)
def test_a_mistake_is_named_with_its_line_and_the_way_out(
    line: str, to: str, number: int, says: str
) -> None:
    assert BLOCK.count(line) == 1
    said = mistakes(BLOCK.replace(line, to))
    assert any(m.startswith(f"session.yaml, line {number}: ") and says in m for m in said), said


def test_a_part_without_a_di_is_refused() -> None:
    assert (
        "the part has no DI"
        in mistakes("format: 1\nname: a\nsongs: [{name: b, parts: [{name: c, revisions: []}]}]")[0]
    )


def test_accents_written_in_two_ways_are_twins() -> None:
    rows = [
        f"{{name: {n}, revisions: [{{file: a.wav, file_sha256: {SHA}}}]}}" for n in ("é", "e\u0301")
    ]
    text = f"format: 1\nname: a\nsongs: [{{name: b, parts: [{', '.join(rows)}]}}]"
    assert "would share their files" in mistakes(text)[0]


def test_a_newer_format_is_one_sentence_whatever_else_is_new() -> None:
    (said,) = mistakes("format: 2\nname: a\nbands: [{x: 1}]\n")
    assert said.startswith("session.yaml, line 1: the session was written by a newer program")
    assert "update this program" in said


# ------------------------------------------------------------------ writing


def safe(name: str) -> bool:
    return name_problem(name) is None


names = st.text(
    st.characters(categories=["L", "N"], max_codepoint=0x24F), min_size=1, max_size=10
).filter(safe)
hashes = (
    st.text("0123456789abcdef", min_size=64, max_size=64)
    | st.just("1" * 64)
    | st.just("1" * 62 + "e5")
)
paths = names.map(lambda name: f"di/{name}.wav")
revisions = st.builds(Revision, file=paths, channel=st.integers(1, 64), file_sha256=hashes)
originals = st.builds(
    Original, name=names, file=paths, channel=st.integers(1, 64), file_sha256=hashes
)
parts = st.builds(
    Part,
    name=names,
    trim_db=st.floats(-60, 24),
    revisions=st.lists(revisions, min_size=1, max_size=3).map(tuple),
    originals=st.lists(originals, max_size=2, unique_by=lambda o: twin_key(o.name)).map(tuple),
)
titles = typed.titles(longest=20)
songs = st.builds(
    Song,
    name=titles,
    bpm=st.none() | st.floats(20, 400),
    metre=st.none() | st.sampled_from(["4/4", "6/8", "12/8"]),
    tempo_file=st.none() | paths,
    song_start_s=st.none() | st.floats(0, 86400),
    backing=st.none() | st.builds(Backing, file=paths, file_sha256=hashes),
    parts=st.lists(parts, max_size=3).map(tuple),
)


def no_twins(file: SessionFile) -> bool:
    keys = [twin_key(part.name) for song in file.songs for part in song.parts]
    return len(set(keys)) == len(keys) and "newpart" not in keys


files = st.builds(
    SessionFile, name=titles, wiring=st.none() | paths, songs=st.lists(songs, max_size=3).map(tuple)
).filter(no_twins)


def composed(file: SessionFile) -> SessionFile:
    """Return the value with names as they are stored, whatever hypothesis made."""
    return msgspec.convert(msgspec.to_builtins(file), SessionFile)


@settings(max_examples=50)
@given(files)
def test_what_is_written_reads_back(file: SessionFile) -> None:
    assert parsed(session_text(file)) == composed(file)


@settings(max_examples=50)
@given(files)
def test_a_general_yaml_reader_reads_the_same_checksums_and_names(file: SessionFile) -> None:
    # PyYAML's safe_load, YAML 1.1: where a checksum of digits would become a number.
    plain = yaml.safe_load(session_text(file))
    assert plain["name"] == file.name
    for song, wanted in zip(plain["songs"] or [], file.songs, strict=True):
        for part, of in zip(song["parts"] or [], wanted.parts, strict=True):
            assert part["name"] == of.name
            assert [r["file_sha256"] for r in part["revisions"]] == [
                r.file_sha256 for r in of.revisions
            ]


# ------------------------------------------------------------------ extending


def plus_part(file: SessionFile, song: int, part: Part) -> SessionFile:
    old = file.songs[song]
    songs = list(file.songs)
    songs[song] = msgspec.structs.replace(old, parts=(*old.parts, part))
    return msgspec.structs.replace(file, songs=tuple(songs))


@pytest.mark.parametrize("text", [BLOCK, BLOCK.replace("\n", "\r\n"), BLOCK.rstrip("\n"), FLOW])
def test_a_part_is_put_in_and_every_character_stays(text: str) -> None:
    new = extend.with_part(text, 0, new_part, where="session.yaml")
    assert is_inserted(text, new)
    assert parsed(new) == plus_part(parsed(text), 0, new_part)
    assert ("\r\n" in new) == ("\r\n" in text)
    assert new.count("\r\n") in {0, new.count("\n")}


def test_a_new_part_follows_the_comments_of_the_last_one_and_looks_like_the_others() -> None:
    new = extend.with_part(BLOCK, 0, new_part, where="session.yaml")
    added = textwrap.indent(
        "- name: new part\n  trim_db: -1.5\n  revisions:\n    - file: di/new.wav\n      channel: 1\n"
        f'      file_sha256: "{OTHER}"\n',
        " " * 6,
    )
    assert f"        # keep this\n{added}# the second song is not tracked yet\n" in new


def test_the_first_part_of_a_song_goes_under_its_empty_key() -> None:
    new = extend.with_part(BLOCK, 1, new_part, where="session.yaml")
    assert "  - name: low tide\n    parts:\n      - name: new part\n" in new
    assert new.endswith("# the end\n")


@pytest.mark.parametrize(
    "ending",
    [
        "    parts: []\n",
        "    parts: [ ]  # none\n",
        "    parts: ~\n",
        "    parts: null # none\n",
        "",
        "    parts:",
    ],
)
def test_a_song_without_parts_may_be_written_in_any_way(ending: str) -> None:
    text = "format: 1\nname: a\nsongs:\n  - name: b\n" + ending
    new = extend.with_part(text, 0, new_part, where="session.yaml")
    assert parsed(new).songs[0].parts == (new_part,)
    assert all(word in new for word in ending.split("#")[1:])


@pytest.mark.parametrize("text", [BLOCK, FLOW, BLOCK.replace("\n", "\r\n")])
def test_a_revision_and_an_original_are_put_in_beside_the_others(text: str) -> None:
    new = extend.with_revision(text, "hook", revision, where="session.yaml")
    assert is_inserted(text, new)
    twice = extend.with_original(new, "hook", original, where="session.yaml")
    assert is_inserted(new, twice)
    again = msgspec.structs.replace(original, name="room")
    thrice = extend.with_original(twice, "hook", again, where="session.yaml")
    hook = parsed(thrice).songs[0].parts[-1]
    assert hook.revisions[1:] == (revision,)
    assert hook.originals == (original, again)


def test_a_revision_stands_below_the_last_one_and_a_comment_level_with_it_stays() -> None:
    new = extend.with_revision(BLOCK, "rhythm-left", revision, where="session.yaml")
    assert f"{SHA}\n          - file: di/new.wav\n" in new
    assert f'"{OTHER}"\n          # bar 12 is still late\n' in new
    assert is_inserted(BLOCK, new)


@settings(max_examples=40)
@given(files.filter(lambda file: file.songs), st.data())
def test_additions_keep_every_line_in_order_and_mean_old_plus_new(
    file: SessionFile, data: st.DataObject
) -> None:
    text = data.draw(commented(session_text(file)))
    old = parsed(text)
    assert old == file
    song = data.draw(st.integers(0, len(file.songs) - 1))
    part = Part(name="newPart", revisions=(revision,))
    new = extend.with_part(text, song, part, where="session.yaml")
    assert is_inserted(text, new)
    assert parsed(new) == plus_part(old, song, part)
    more = extend.with_original(new, "newPart", original, where="session.yaml")
    assert is_inserted(new, more)
    assert parsed(more) == plus_part(
        old, song, msgspec.structs.replace(part, originals=(original,))
    )


@pytest.mark.slow
@settings(max_examples=40)
@given(files, songs.filter(lambda song: not song.parts), paths, st.data())
def test_a_song_and_a_wiring_are_put_in_and_the_rest_stays(
    file: SessionFile, song: Song, wiring: str, data: st.DataObject
) -> None:
    text = data.draw(commented(session_text(file)))
    new = extend.with_song(text, song, where="session.yaml")
    assert is_inserted(text, new)
    assert parsed(new) == msgspec.structs.replace(file, songs=(*file.songs, song))
    chosen = extend.with_wiring(new, wiring, where="session.yaml")
    assert parsed(chosen) == msgspec.structs.replace(parsed(new), wiring=wiring)
    changed = [(a, b) for a, b in zip_lines(new, chosen) if a != b]
    assert len(changed) == (file.wiring != wiring)
    for old_line, new_line in changed:
        assert old_line is None or old_line.startswith("wiring: ")
        assert new_line is not None
        assert new_line.startswith("wiring: ")


@settings(max_examples=40)
@given(files.filter(lambda file: any(s.backing is None for s in file.songs)), st.data())
def test_a_backing_track_is_put_in_and_every_character_stays(
    file: SessionFile, data: st.DataObject
) -> None:
    text = data.draw(commented(session_text(file)))
    at = next(i for i, song in enumerate(file.songs) if song.backing is None)
    new = extend.with_backing(text, at, backing, where="session.yaml")
    assert is_inserted(text, new)
    songs = list(file.songs)
    songs[at] = msgspec.structs.replace(songs[at], backing=backing)
    assert parsed(new) == msgspec.structs.replace(file, songs=tuple(songs))


def zip_lines(old: str, new: str) -> list[tuple[str | None, str | None]]:
    """Pair the lines of two texts of which the second has one line more, or one that differs."""
    before: list[str | None] = list(old.splitlines())
    after = new.splitlines()
    if len(before) < len(after):
        at = next((i for i, (a, b) in enumerate(zip(before, after, strict=False)) if a != b), None)
        before.insert(len(before) if at is None else at, None)
    return list(zip(before, after, strict=True))


@st.composite
def commented(draw: st.DrawFn, text: str) -> str:
    """Sprinkle a file with comments and blank lines, as an engineer would."""
    lines: list[str] = []
    for line in text.splitlines():
        if draw(st.booleans()):
            lines.append(
                draw(st.sampled_from(["", "# note", "    # bar 12: late", "            # x"]))
            )
        tail = draw(st.sampled_from(["", "", "   # why", " # a: b, [c]"]))
        lines.append(line if line.startswith("#") else line + tail)
    return "\n".join(lines) + draw(st.sampled_from(["\n", "", "\n\n# the end\n", "\n...\n"]))


def test_a_file_that_cannot_be_added_to_is_left_and_the_lines_are_shown() -> None:
    # Line ends of an old Macintosh: there is no place in the middle of what looks like one line.
    text = "format: 1\rname: a\rsongs:\r  - name: b\r    parts:\r  - name: c\r"
    assert len(parsed(text).songs) == 2
    with pytest.raises(UseError, match="add these lines there yourself") as caught:
        extend.with_part(text, 0, new_part, where="session.yaml")
    assert "    - name: new part\n" in str(caught.value)
    assert "session.yaml, line 4: " in str(caught.value)


@pytest.mark.parametrize(
    "gap", ["", " ", "\n", ",", " ,\n", "  # the solo comes later\n", ", # x, ]\n"]
)
def test_brackets_take_one_more_whatever_stands_before_they_close(gap: str) -> None:
    part = f"{{name: a, revisions: [{{file: a.wav, file_sha256: {SHA}}}{gap}]}}"
    text = f"format: 1\nname: a\nsongs: [{{name: b, parts: [{part}{gap}]{gap}}}{gap}]\n"
    new = extend.with_part(text, 0, new_part, where="session.yaml")
    more = extend.with_original(new, "a", original, where="session.yaml")
    assert parsed(extend.with_revision(more, "a", revision, where="session.yaml"))
    assert is_inserted(text, new)
    assert is_inserted(new, more)


def test_a_backing_track_stands_above_the_parts_and_below_what_is_said_of_the_song() -> None:
    new = extend.with_backing(BLOCK, 0, backing, where="session.yaml")
    line = f'    backing: {{file: backing/new.flac, file_sha256: "{OTHER}"}}\n'
    assert f"    metre: 4/4\n{line}    parts:\n" in new
    assert is_inserted(BLOCK, new)
    second = extend.with_backing(BLOCK, 1, backing, where="session.yaml")
    assert f"  - name: low tide\n{line}    parts:\n# the end\n" in second


@pytest.mark.parametrize("written", ["backing:", "backing: ~", "backing: null   # none yet"])
def test_an_empty_backing_key_is_filled(written: str) -> None:
    text = BLOCK.replace("    metre: 4/4", f"    {written}")
    new = extend.with_backing(text, 0, backing, where="session.yaml")
    assert parsed(new).songs[0].backing == backing
    assert new.count("backing: ") == 1
    assert ("# none yet" in new) == ("# none yet" in text)


def test_a_backing_track_that_is_named_already_is_never_replaced() -> None:
    text = extend.with_backing(BLOCK, 0, backing, where="session.yaml")
    other = msgspec.structs.replace(backing, file="backing/other.flac")
    with pytest.raises(UseError, match=r"has a backing track already, backing/new\.flac; take it"):
        extend.with_backing(text, 0, other, where="session.yaml")


@pytest.mark.parametrize(
    "text", [FLOW, FLOW.replace("]}}\n", "], bpm: 90}}]}\n").replace("]}}]}", "]}"), BLOCK]
)
def test_brackets_take_a_song_a_backing_track_and_a_wiring(text: str) -> None:
    song = Song(name="low water", bpm=108, metre="6/8", song_start_s=0.6)
    new = extend.with_song(text, song, where="session.yaml")
    more = extend.with_backing(new, 0, backing, where="session.yaml")
    most = extend.with_wiring(more, "wirings/room.yaml", where="session.yaml")
    for old, longer in ((text, new), (new, more), (more, most)):
        assert is_inserted(old, longer)
    assert parsed(most).songs[-1] == song
    assert parsed(most).songs[0].backing == backing
    assert parsed(most).wiring == "wirings/room.yaml"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("wiring: wiring.yaml   # the copy", "wiring: wirings/a.yaml   # the copy"),
        ("wiring: 'wiring.yaml'", "wiring: wirings/a.yaml"),
        ('wiring:    "wiring.yaml"', "wiring:    wirings/a.yaml"),
        ("wiring: ~  # none", "wiring: wirings/a.yaml  # none"),
        ("wiring:", "wiring: wirings/a.yaml"),
        ("wiring:  # none", "wiring: wirings/a.yaml  # none"),
        ("wiring:\n  wiring.yaml", "wiring:\n  wirings/a.yaml"),
    ],
)
def test_another_wiring_takes_the_place_of_the_old_one_and_nothing_else_moves(
    old: str, new: str
) -> None:
    head, tail = "# ours\nformat: 1\nname: x  # y\n", "\nsongs: []\n# end"
    changed = extend.with_wiring(head + old + tail, "wirings/a.yaml", where="session.yaml")
    assert changed == head + new + tail


def test_a_wiring_where_none_was_named_goes_above_the_songs() -> None:
    new = extend.with_wiring(BLOCK, "wirings/a.yaml", where="session.yaml")
    assert "# working title\nwiring: wirings/a.yaml\nsongs:\n  # the single\n" in new
    assert is_inserted(BLOCK, new)


def test_a_wiring_that_cannot_be_written_safely_is_one_sentence_with_the_line_to_write() -> None:
    text = "format: 1\nname: a\nwiring: >-\n  wiring.yaml\nsongs: []\n"
    assert parsed(text).wiring == "wiring.yaml"
    with pytest.raises(UseError, match=r"session.yaml, line 3: ") as caught:
        extend.with_wiring(text, "wirings/a.yaml", where="session.yaml")
    assert str(caught.value).endswith("yourself, indented alike: wiring: wirings/a.yaml")
    assert len(str(caught.value).splitlines()) == 1


def test_extending_a_broken_file_names_its_mistake() -> None:
    with pytest.raises(UseError, match="line 8: "):
        extend.with_part(BLOCK.replace("bpm: 92", "bpm: x"), 0, new_part, where="session.yaml")


def test_a_part_that_is_gone_cannot_be_extended() -> None:
    with pytest.raises(UseError, match="not there any more"):
        extend.with_revision(BLOCK, "solo", revision, where="session.yaml")
