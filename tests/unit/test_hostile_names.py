"""Whatever things are called: files stay in the session, two names stay two, and no terminal is steered."""

import io
import json
import sys
import tempfile
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath, PureWindowsPath

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from unit.session_cases import facts_of, noon, tree

from audio.files.source import open_sound
from audio.session import layout
from audio.session.folder import create, open_session
from audio.session.opened import Session
from audio.session.passes import capture_name, claim
from audio.vocab.errors import UseError
from audio.vocab.names import chain_problem, is_inside, name_problem, slug, twin_key
from audio.vocab.session_file import Song
from audio.vocab.wiring_file import parse_wiring
from tui.present.json import show_json
from tui.present.terminal import clean, say, tell

HOSTILE = (
    *("../x", "a/b", "a\\b", "..", ".", "/etc/passwd", "C:\\x", "~", "-rf", "a\0b", "a\nb", "a\rb"),
    *("\x1b[2J", "\x1b]0;x\x07", "\x07", "\x9b31m", "\x85", "\u2028", "\u202egnp.wav", "a\u200bb"),
    *("\u2066a", "\ufeffa", "\u3164", "a\u034fb", "CON", "nul.txt", "COM1", "com¹", "aux .wav"),
    *("a.", "a ", " a", "Hook", "HOOK", "hook", "née", "ne\u0301e", "\uff48\uff4f\uff4f\uff4b"),
    *(
        "x" * 300,
        "é" * 41,
        "\udcff",
        "a\udc80b",
        "ﬁne",
        "fine",
        "ß",
        "ss",
        "SS",
        "İ",
        "ı",
        "K",
        "ſ",
    ),
)
names = st.one_of(
    st.sampled_from(HOSTILE),
    st.text(max_size=20),
    st.text(alphabet=st.characters(categories=("Cc", "Cf", "Cs", "Lu", "Po")), max_size=8),
    st.tuples(st.sampled_from(HOSTILE), st.sampled_from(HOSTILE)).map("".join),
)
few = settings(max_examples=25, deadline=None)

WIRING = """\
name: x
device: {kind: portaudio, host: a, name: b}
sample_rate: 48000
send: {output: 3}
returns: [{name: %s, input: 1}, {name: %s, input: 2}]
"""


@contextmanager
def session() -> Iterator[tuple[Session, Path]]:
    """Make a session in a folder of its own, with a DI beside it."""
    with tempfile.TemporaryDirectory() as folder:
        di = Path(folder) / "di.wav"
        di.write_bytes(b"RIFF")
        yield create(Path(folder) / "s", name="s", song="s"), di


def hidden(text: str) -> list[str]:
    """Return the characters that steer a terminal or hide in a text."""
    return [c for c in text if unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp")]


def on_a_disk(name: str) -> str:
    """Return a name as a disk compares it that folds case and accents' spelling (Unicode, D145)."""
    return unicodedata.normalize("NFD", unicodedata.normalize("NFD", name).casefold())


# ------------------------------------------------------------------ inside


@few
@given(names)
def test_whatever_a_part_is_called_its_files_stay_in_the_session(name: str) -> None:
    with session() as (empty, di):
        s = empty
        around = tree(s.folder.parent)
        try:
            s = s.add_part(source=di, facts=facts_of(di), name=name, clock=noon)
            s.add_original(
                s.file.songs[0].parts[0].name, source=di, facts=facts_of(di), name=name, clock=noon
            )
            claim(s, s.file.songs[0].parts[0].name, clock=noon)
        except UseError as error:
            assert not hidden(str(error))  # noqa: PT017 - refused or not, both may happen
            assert tree(s.folder.parent) == around
            return
        made = tree(s.folder.parent).keys() - around.keys()
        assert {PurePosixPath(path).parts[0] for path in made} == {"s"}
        assert open_session(s.folder).file.songs[0].parts[0].name == unicodedata.normalize(
            "NFC", name
        )
        for path in made:
            assert not hidden(path)
            assert PureWindowsPath(path).parts == PurePosixPath(path).parts


@few
@given(names)
def test_whatever_a_song_is_called_its_backing_track_stays_in_the_session(name: str) -> None:
    with session() as (empty, di):
        s = empty
        around = tree(s.folder.parent)
        try:
            s = s.add_song(name, clock=noon)
            s.add_backing(s.file.songs[1].name, source=di, facts=facts_of(di), clock=noon)
        except UseError as error:
            assert not hidden(str(error))  # noqa: PT017 - refused or not, both may happen
            return
        made = [PurePosixPath(path) for path in tree(s.folder.parent).keys() - around.keys()]
        assert all(
            path.parts[:2] == ("s", layout.BACKING) for path in made if path.suffix == ".wav"
        )
        assert not hidden("".join(map(str, made)))


@given(names, names)
def test_a_recording_is_one_piece_of_a_path_whatever_chain_and_return_are_called(
    chain: str, one: str
) -> None:
    made = capture_name("hook", 7, chain, one)
    if chain_problem(chain) is None:
        assert PurePosixPath(made).name == PureWindowsPath(made).name == made
        assert not hidden(made)
        assert name_problem(made.removesuffix(".wav")) is None or len(made.encode()) > 80


@given(names, names)
@example("..", "x")
@example("a", "../../x")
def test_a_path_that_counts_as_inside_is_inside_on_every_system(one: str, other: str) -> None:
    path = f"{one}/{other}"
    if is_inside(path):
        assert ".." not in PureWindowsPath(path).parts
        assert PureWindowsPath("C:/session").joinpath(path).drive == "C:"
        assert Path("/session").joinpath(path).is_relative_to("/session")
        assert not hidden(path)


# ------------------------------------------------------------------ two names are two


@few
@given(names, st.sampled_from([str.upper, str.lower, str.swapcase, str.title, str]))
def test_a_name_that_a_disk_takes_for_another_is_refused_beside_it(name: str, change) -> None:
    twin = unicodedata.normalize("NFD", change(name))
    if name_problem(name) or name_problem(unicodedata.normalize("NFC", twin)):
        return
    if on_a_disk(twin) == on_a_disk(name):
        assert twin_key(twin) == twin_key(name)
        with session() as (empty, di):
            s = empty.add_part(source=di, facts=facts_of(di), name=name, clock=noon)
            with pytest.raises(UseError, match="share its files"):
                s.add_part(source=di, facts=facts_of(di), name=twin, clock=noon)


@few
@given(names, names)
@example("close", "CLOSE")
@example("a b", "a-b")
@example("ﬁne", "fine")
@example("ß", "ss")
@example("\u212a", "k")
def test_two_returns_of_one_wiring_have_files_of_their_own(one: str, other: str) -> None:
    try:
        wiring = parse_wiring(WIRING % (json.dumps(one), json.dumps(other)), where="w.yaml")
    except UseError as error:
        assert not hidden(str(error).replace("\n", ""))  # noqa: PT017 - refused or not
        return
    files = {on_a_disk(capture_name("hook", 7, "fuzz", r.name)) for r in wiring.returns}
    assert len(files) == 2


def test_chains_whose_names_become_the_same_piece_are_told_apart_by_the_pass(tmp_path) -> None:
    assert slug("fuzz + delay") == slug("fuzz/delay")
    s = create(tmp_path / "s", name="s", song="s")
    (tmp_path / "di.wav").write_bytes(b"RIFF")
    s = s.add_part(source=tmp_path / "di.wav", facts=facts_of(tmp_path / "di.wav"), name="hook")
    claims = [claim(s, "hook", clock=noon) for _ in range(2)]
    files = {
        one.folder / capture_name("hook", one.number, chain, "close")
        for one, chain in zip(claims, ("fuzz + delay", "fuzz/delay"), strict=True)
    }
    assert len(files) == len({file.name for file in files}) == 2


def test_songs_whose_names_become_the_same_piece_have_backing_tracks_of_their_own(tmp_path) -> None:
    s = create(tmp_path / "s", name="s", song="low tide")
    s = s.add_song("low/tide", clock=noon)
    for at, song in enumerate(("low tide", "low/tide")):
        (tmp_path / "b.wav").write_bytes(b"RIFF%d" % at)
        s = s.add_backing(
            song, source=tmp_path / "b.wav", facts=facts_of(tmp_path / "b.wav"), clock=noon
        )
    files = [song.backing.file for song in s.file.songs if song.backing]
    assert len(set(files)) == 2
    assert [s.path(file).read_bytes() for file in files] == [b"RIFF0", b"RIFF1"]


# ------------------------------------------------------------------ what is printed


@given(names)
def test_nothing_that_is_printed_steers_a_terminal(name: str) -> None:
    assert not hidden(clean(name))
    assert not hidden(str(UseError(f"{name} cannot be read")).replace("\n", ""))


@given(names.filter(lambda name: not any("\ud800" <= c <= "\udfff" for c in name)))
def test_json_holds_every_name_and_no_control_character(name: str) -> None:
    raw = io.BytesIO()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "stdout", io.TextIOWrapper(raw, write_through=True))
        show_json({"name": name, "song": Song(name=name)})
        text = raw.getvalue().decode()
    assert not hidden(text.replace("\n", ""))
    assert json.loads(text) == {"name": name, "song": json.loads(text)["song"]}
    assert json.loads(text)["song"]["name"] == name


@pytest.mark.parametrize("name", HOSTILE)
def test_a_system_error_that_quotes_a_name_is_printed_harmless(name: str, capsys) -> None:
    try:
        open_sound(Path("/nowhere") / name)
    except UseError as error:
        say(str(error))
        tell(str(error))
    said = capsys.readouterr()
    assert said.err
    assert not hidden((said.err + said.out).replace("\n", ""))


def test_a_place_whose_name_is_no_text_is_refused_in_one_sentence(tmp_path) -> None:
    folder = tmp_path / "bad\udcff"
    folder.mkdir()
    for make in (lambda: create(folder / "s", name="s", song="s"), lambda: open_session(folder)):
        with pytest.raises(UseError, match=r"no text; rename that folder") as caught:
            make()
        assert not hidden(str(caught.value))
    assert not list(folder.iterdir())
    (folder / "x.wav").write_bytes(b"RIFF")
    with pytest.raises(UseError, match=r"no text; rename it"):
        open_sound(folder / "x.wav")
