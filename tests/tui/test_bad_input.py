"""Bad input through the installed command: one sentence with a way out, exit 2, nothing changed on disk."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import soundfile
from installed import ROOM, Ran, copy_of, listing, make_bench, run
from needs import needs_jack, needs_samples

from audio.session.lock import lock_session

pytestmark = needs_samples()

PASS = ("pass", "tonight", "--part", "riff", "--chain", "crunch")
NEW = ("new", "fresh", "--di", "riff.wav")


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_bench(tmp_path_factory.mktemp("template") / "bench")


@pytest.fixture
def bench(template: Path, tmp_path: Path) -> Path:
    return copy_of(template, tmp_path)


def refused(folder: Path, *arguments: str) -> Ran:
    """Run the command; it must refuse and leave the folder, its sessions and its temporary files alone."""
    before = listing(folder)
    ran = run(*arguments, folder=folder)
    assert ran.code == 2, ran
    assert ran.out == ""
    assert "Traceback" not in ran.err
    assert all(c.isprintable() or c == "\n" for c in ran.err)
    assert ran.err.startswith("secondpass")
    assert ran.err.endswith("\n")
    assert listing(folder) == before
    return ran


def one_sentence(ran: Ran, *fragments: str) -> None:
    """One line, with every fragment in it, and a way out behind what is wrong."""
    assert len(ran.lines) == 1, ran.err
    for fragment in fragments:
        assert fragment in ran.lines[0]
    assert any(mark in ran.lines[0].removeprefix("secondpass") for mark in (";", ": ", "?"))


# ---------------------------------------------------------------- wirings


@dataclass(frozen=True)
class Edit:
    """A mistake made in the good wiring: `old` becomes `new`."""

    old: str
    new: str
    says: tuple[str, ...]


WIRINGS = {
    "nothing in it": Edit(ROOM, "", ("line 1: the file is empty", "write name:")),
    "only words": Edit(ROOM, "the blue cable\n", ("line 1: the file is 'the blue cable'", "write")),
    "a list": Edit(ROOM, "- a\n- b\n", ("line 1: the file is a list", "write name:")),
    "a key twice": Edit(
        "tail_s: 2", "tail_s: 2\ntail_s: 3", ("line 17", "'tail_s' is given twice")
    ),
    "a tab": Edit("  pace: free", "\tpace: free", ("line 4", "a tab", "indent with spaces")),
    "a bracket left open": Edit("{output: 3}", "{output: 3", ("line 9", "bracket", "close it")),
    "unknown key": Edit("tail_s: 2", "tails: 2", ("line 16", "'tails'", "did you mean tail_s?")),
    "channel 0": Edit("output: 3", "output: 0", ("line 9", "send output is 0", "from 1")),
    "channel in words": Edit("output: 3", "output: three", ("line 9", "'three'", "whole number")),
    "one input twice": Edit("room, input: 3", "room, input: 2", ("line 12", "input 2", "taken by")),
    "one name twice": Edit("name: room", "name: Close", ("line 12", "share their file", "rename")),
    "send people hear": Edit("[1, 2]", "[1, 3]", ("line 14", "is the send", "out of listen")),
    "unknown reference": Edit("reference: close", "reference: far", ("line 13", "'far'", "close")),
    "rate in kHz": Edit("44100", "44.1", ("line 8", "44.1", "did you mean 44100?")),
    "absurd rate": Edit("44100", "3", ("line 8", "sample_rate is 3", "write one of 44100")),
    "rate as a time": Edit("44100", "10:30", ("line 8", "'10:30'", "write one of")),
    "click over ceiling": Edit("-40", "-10", ("line 15", "over its ceiling of -12", "lower")),
    "ceiling at full scale": Edit("-12", "0", ("line 15", "ceiling_dbfs is 0", "-70 to -6")),
    "unknown kind": Edit("simulated", "asio", ("line 3", "device kind is 'asio'", "portaudio")),
    "unknown pace": Edit("pace: free", "pace: fast", ("line 4", "'fast'", "clock, free")),
    "an anchor": Edit("name: bench room", "name: &room bench", ("line 1", "an anchor", "write")),
    "a tag": Edit("tail_s: 2", "tail_s: !!int 2", ("line 16", "a tag", "leave it out")),
    "a device as text": Edit("{output: 3}", "3", ("line 9", "send is 3", "write send:")),
    "no returns": Edit(
        "returns:\n  - {name: close, input: 2}\n  - {name: room, input: 3}\nreference: close",
        "returns: []",
        ("line 10", "no return is listed", "write returns:"),
    ),
    "return named like a path": Edit("name: room", "name: ../room", ("line 12", "letters, digits")),
    "too many channels": Edit("output: 3", "output: 5", ("line 2", "output 5", "ends at 4")),
    "an endless tail": Edit("tail_s: 2", "tail_s: 1e9", ("line 16", "tail_s", "0 to 120")),
    "a room nobody knows": Edit(
        "{input: 2}",
        "{input: 2, cabinet: shed}",
        ("room.yaml", "no cabinet 'shed'", "write one of"),
    ),
    "too large": Edit("tail_s: 2", "tail_s: 2\n" + "# words\n" * 70_000, ("larger than", "name")),
}


@pytest.mark.parametrize("name", WIRINGS)
def test_a_broken_wiring_is_told_with_its_line(bench: Path, name: str) -> None:
    edit = WIRINGS[name]
    assert ROOM.count(edit.old) == 1
    (bench / "room.yaml").write_text(ROOM.replace(edit.old, edit.new))
    one_sentence(refused(bench, "delay", "--wiring", "room.yaml"), "room.yaml", *edit.says)


def test_every_mistake_of_a_wiring_is_told_with_its_line_at_once(bench: Path) -> None:
    text = (
        ROOM.replace("44100", "44000").replace("output: 3", "output: 0").replace("tail_s", "tale")
    )
    (bench / "room.yaml").write_text(text)
    ran = refused(bench, "delay", "--wiring", "room.yaml")
    where = [line.removeprefix("secondpass: ").partition(": ")[0] for line in ran.lines]
    assert where == ["room.yaml, line 8", "room.yaml, line 9", "room.yaml, line 16"]


@pytest.mark.parametrize(
    ("path", "says"),
    [
        ("nowhere.yaml", ("nowhere.yaml", "no such file", "check the path")),
        ("tonight", ("tonight", "this is a folder", "name the file")),
        ("riff.wav", ("riff.wav", "no UTF-8 text", "save it as UTF-8")),
        ("", ("--wiring", "the path is empty", "name a file")),
        ("bell\a.yaml", ("--wiring", "bell\\x07.yaml", "hidden character", "rename it")),
    ],
)
def test_a_wiring_that_is_none_is_told_by_name(
    bench: Path, path: str, says: tuple[str, ...]
) -> None:
    one_sentence(refused(bench, "delay", "--wiring", path), *says)


@needs_jack()
def test_an_audio_host_this_system_does_not_have_is_answered_with_those_it_has(bench: Path) -> None:
    start, end = ROOM.index("device:"), ROOM.index("sample_rate:")
    device = "device: {kind: portaudio, host: Nowhere Audio, name: desk}\n"
    (bench / "room.yaml").write_text(ROOM[:start] + device + ROOM[end:])
    one_sentence(refused(bench, *PASS, "--wiring", "room.yaml"), "room.yaml", "'Nowhere Audio'")


# ---------------------------------------------------------------- DIs


def _cut_short(folder: Path) -> None:
    (folder / "x.wav").write_bytes((folder / "riff.wav").read_bytes()[:5000])


def _no_frames(folder: Path) -> None:
    soundfile.write(folder / "x.wav", np.zeros(0), 44100, subtype="PCM_24")


def _no_number(folder: Path) -> None:
    samples, rate = soundfile.read(folder / "riff.wav", dtype="float32")
    samples[22050] = np.nan
    soundfile.write(folder / "x.wav", samples, rate, subtype="FLOAT")


def _other_rate(folder: Path) -> None:
    samples, _ = soundfile.read(folder / "riff.wav")
    soundfile.write(folder / "x.wav", samples, 48000, subtype="PCM_24")


def _lossy(folder: Path) -> None:
    samples, rate = soundfile.read(folder / "riff.wav")
    soundfile.write(folder / "x.ogg", samples, rate)
    (folder / "x.ogg").rename(folder / "x.wav")


DIS: dict[str, tuple[Callable[[Path], object], tuple[str, ...]]] = {
    "missing": (lambda _: None, ("x.wav", "No such file", "check its name")),
    "a folder": (lambda f: (f / "x.wav").mkdir(), ("x.wav is a folder", "name a sound file")),
    "empty": (lambda f: (f / "x.wav").touch(), ("x.wav is empty", "export")),
    "words": (lambda f: (f / "x.wav").write_text("take 3\n"), ("not a sound file", "WAV, RF64")),
    "cut short": (_cut_short, ("x.wav is cut short", "claims 88200 frames", "again")),
    "no frames": (_no_frames, ("x.wav holds no audio", "export it again")),
    "no number": (_no_number, ("frame 22050", "0.500 s", "export it again")),
    "another rate": (_other_rate, ("48000 Hz", "44100 Hz", "export it at 44100 Hz")),
    "lossy": (_lossy, ("x.wav is OGG", "lossless", "export it")),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", DIS)
def test_a_di_that_cannot_be_sent_makes_no_session(bench: Path, name: str) -> None:
    make, says = DIS[name]
    make(bench)
    one_sentence(refused(bench, "new", "fresh", "--di", "x.wav", "--wiring", "room.yaml"), *says)


def test_a_di_that_cannot_be_sent_is_not_added(bench: Path) -> None:
    _cut_short(bench)
    one_sentence(refused(bench, "add", "tonight", "--di", "x.wav"), "x.wav is cut short")


def test_one_bad_di_among_good_ones_makes_no_session(bench: Path) -> None:
    _no_number(bench)
    one_sentence(refused(bench, *NEW, "x.wav"), "x.wav holds a sample that is no number")


def test_dis_that_some_disk_takes_for_one_make_no_session(bench: Path) -> None:
    shutil.copy(bench / "riff.wav", bench / "RIFF.wav")
    one_sentence(refused(bench, *NEW, "RIFF.wav"), "riff.wav and RIFF.wav", "rename one")


def test_a_di_whose_name_no_part_can_have_makes_no_session(bench: Path) -> None:
    shutil.copy(bench / "riff.wav", bench / "aux.wav")
    one_sentence(refused(bench, *NEW, "aux.wav"), "aux.wav", "Windows", "add a word")


# ---------------------------------------------------------------- arguments

ARGUMENTS = {
    "no verb": ((), ("name a verb", "--help")),
    "unknown verb": (("strum",), ("no verb 'strum'", "new, add")),
    "a verb cut short": (("del", "--wiring", "room.yaml"), ("no verb 'del'", "did you mean delay")),
    "no wiring": (("delay",), ("required: --wiring", "delay --help")),
    "an option cut short": (("delay", "--wir", "room.yaml"), ("required: --wiring", "--help")),
    "an option of another verb": (("devices", "--di", "riff.wav"), ("--di riff.wav", "--help")),
    "no part, no chain": (("pass", "tonight"), ("required: --part, --chain", "pass --help")),
    "channel 0": ((*NEW, "--channel", "0"), ("--channel", "'0'", "count from 1")),
    "channel in words": ((*NEW, "--channel", "x"), ("--channel", "'x'", "count from 1")),
    "channel not there": ((*NEW, "--channel", "2"), ("riff.wav", "1 channel", "name one")),
    "tempo in words": ((*NEW, "--bpm", "abc"), ("--bpm", "'abc' is no tempo", "such as 96")),
    "no tempo": ((*NEW, "--bpm", "0"), ("tempo of 0", "from 20 to 400")),
    "negative tempo": ((*NEW, "--bpm", "-5"), ("tempo of -5", "from 20 to 400")),
    "absurd tempo": ((*NEW, "--bpm", "1e9"), ("tempo of 1e+09", "from 20 to 400")),
    "tempo that is no number": ((*NEW, "--bpm", "nan"), ("tempo of nan", "from 20 to 400")),
    "metre": ((*NEW, "--metre", "7"), ("'7' is no metre", "such as 4/4")),
    "folder in use": (("new", "tonight", "--di", "riff.wav"), ("not empty", "name a new")),
    "folder is a file": (("new", "room.yaml", "--di", "riff.wav"), ("a file of this name",)),
    "folder in no folder": (("new", "a/b", "--di", "riff.wav"), ("parent folder", "make")),
    "folder with a long name": (
        ("new", "x" * 81, "--di", "riff.wav"),
        ("80 characters", "shorten"),
    ),
    "demo into a session": (("demo", "--headless", "--out", "tonight"), ("not empty", "name")),
    "di and original": (
        ("add", "tonight", "--di", "riff.wav", "--original", "riff.wav"),
        ("--original", "not allowed with", "--di", "add --help"),
    ),
    "neither di nor original": (
        ("add", "tonight"),
        ("nothing to add", "--di, --original, --backing or --tempo"),
    ),
    "backing and di": (
        ("add", "tonight", "--di", "riff.wav", "--backing", "riff.wav"),
        ("--backing", "not allowed with", "--di", "add --help"),
    ),
    "backing of an unknown song": (
        ("add", "tonight", "--backing", "riff.wav", "--song", "dawn"),
        ("no song 'dawn'", "its songs are: tonight"),
    ),
    "backing of a part": (
        ("add", "tonight", "--backing", "riff.wav", "--part", "riff"),
        ("--part", "leave it out with --backing", "--song"),
    ),
    "channel of a backing": (
        ("add", "tonight", "--backing", "riff.wav", "--channel", "2"),
        ("--channel", "leave it out"),
    ),
    "microphone of a backing": (
        ("add", "tonight", "--backing", "riff.wav", "--name", "close"),
        ("--name", "leave it out with --backing"),
    ),
    "backing that is no sound": (
        ("add", "tonight", "--backing", "room.yaml"),
        ("room.yaml",),
    ),
    "backing of a new song": (
        ("add", "tonight", "--backing", "riff.wav", "--new-song", "dawn"),
        ("--new-song", "leave it out with --backing"),
    ),
    "original of a new song": (
        ("add", "tonight", "--original", "riff.wav", "--part", "riff", "--new-song", "dawn"),
        ("--new-song", "leave it out with --original"),
    ),
    "new song that is there": (
        ("add", "tonight", "--di", "riff.wav", "--part", "hook", "--new-song", "Tonight"),
        ("a song 'tonight' already", "another name", "--song"),
    ),
    "new song and song": (
        ("add", "tonight", "--di", "riff.wav", "--song", "tonight", "--new-song", "dawn"),
        ("--new-song", "not allowed with", "--song", "add --help"),
    ),
    "new song without a name": (
        ("add", "tonight", "--di", "riff.wav", "--part", "hook", "--new-song", ""),
        ("name is empty", "give it one letter"),
    ),
    "new song with a hidden character": (
        ("add", "tonight", "--di", "riff.wav", "--part", "hook", "--new-song", "a\x1b[2Jb"),
        ("'a\\x1b[2Jb'", "hidden character", "type it again"),
    ),
    "new song of a part that is there": (
        ("add", "tonight", "--di", "riff.wav", "--new-song", "dawn"),
        ("part 'riff' exists already", "name the new part otherwise"),
    ),
    "new song at no tempo": (
        ("add", "tonight", "--di", "riff.wav", "--part", "b", "--new-song", "dawn", "--bpm", "0"),
        ("tempo of 0", "from 20 to 400"),
    ),
    "new song in no metre": (
        ("add", "tonight", "--di", "riff.wav", "--part", "b", "--new-song", "d", "--metre", "7"),
        ("'7' is no metre", "such as 4/4"),
    ),
    "tempo of no new song": (
        ("add", "tonight", "--di", "riff.wav", "--part", "hook", "--bpm", "96"),
        ("--bpm", "--new-song", "session.yaml"),
    ),
    "tempo given twice": (
        (*NEW, "--bpm", "96", "--tempo", "click.mid"),
        ("given twice", "--bpm", "--tempo"),
    ),
    "tempo file that is not there": ((*NEW, "--tempo", "no.mid"), ("no.mid", "put it back")),
    "tempo file that is none": (
        ("add", "tonight", "--tempo", "riff.wav"),
        ("riff.wav", "neither a Standard MIDI File nor a label text file", "export"),
    ),
    "tempo file of a part that is no song": (
        ("add", "tonight", "--di", "riff.wav", "--part", "hook", "--tempo", "click.mid"),
        ("--tempo", "--new-song"),
    ),
    "metre of no new song": (
        ("add", "tonight", "--backing", "riff.wav", "--metre", "3/4"),
        ("--metre", "--new-song", "session.yaml"),
    ),
    "original of nothing": (
        ("add", "tonight", "--original", "riff.wav"),
        ("belongs to a part", "--part"),
    ),
    "original of an unknown part": (
        ("add", "tonight", "--original", "riff.wav", "--part", "hook"),
        ("no part 'hook'", "its parts are: riff"),
    ),
    "microphone of a di": (
        ("add", "tonight", "--di", "riff.wav", "--name", "close"),
        ("--name", "leave it out"),
    ),
    "song of an original": (
        ("add", "tonight", "--original", "riff.wav", "--part", "riff", "--song", "tonight"),
        ("--song", "leave it out"),
    ),
    "the same edit": (("add", "tonight", "--di", "riff.wav"), ("has already", "save the new one")),
    "part with a twin": (
        ("add", "tonight", "--di", "riff.wav", "--part", "Riff"),
        ("part 'riff' exists already", "as a new revision"),
    ),
    "part without a name": (
        ("add", "tonight", "--di", "riff.wav", "--part", ""),
        ("a name is empty", "give it one letter"),
    ),
    "part like a path": (
        ("add", "tonight", "--di", "riff.wav", "--part", "../riff"),
        ("'../riff'", "use a dash"),
    ),
    "part with a hidden character": (
        ("add", "tonight", "--di", "riff.wav", "--part", "a\x1b[2Jb"),
        ("'a\\x1b[2Jb'", "hidden character", "type it again"),
    ),
    "unknown song": (
        ("add", "tonight", "--di", "riff.wav", "--part", "hook", "--song", "dawn"),
        ("no song 'dawn'", "its songs are: tonight"),
    ),
    "unknown part": (
        ("pass", "tonight", "--part", "hook", "--chain", "crunch"),
        ("no part 'hook'", "its parts are: riff"),
    ),
    "chain without a name": ((*PASS[:-1], " "), ("the chain has no name", "write what is plugged")),
    "chain that steers a terminal": (
        (*PASS[:-1], "fuzz\x1b]0;x\a"),
        ("fuzz\\x1b]0;x\\x07", "hidden character", "type it again"),
    ),
    "chain of bytes that are no text": (
        (*PASS[:-1], "fuzz\udcff"),
        ("fuzz\\udcff", "hidden character", "type it again"),
    ),
    "chain with a long name": ((*PASS[:-1], "é" * 150), ("longer than 80 characters", "shorten")),
    "no shell": (("completion", "fish"), ("no shell 'fish'", "bash, zsh")),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", ARGUMENTS)
def test_a_wrong_argument_is_one_sentence(bench: Path, name: str) -> None:
    arguments, says = ARGUMENTS[name]
    one_sentence(refused(bench, *arguments), *says)


@pytest.mark.slow
def test_a_chain_may_be_called_anything_visible_and_stays_inside_its_pass(bench: Path) -> None:
    chain = "../../up/down: <loud> 100 %"
    ran = run(*PASS[:-1], chain, folder=bench)
    assert ran.code == 0, ran.err
    assert len(list((bench / "tonight/passes/riff/001").glob("riff_001_*_close.wav"))) == 1
    assert f"through {chain}" in ran.out


# ---------------------------------------------------------------- sessions


def _break_session(folder: Path) -> None:
    path = folder / "tonight/session.yaml"
    path.write_text(path.read_text().replace("channel: 1", "channel: 0"))


def _newer_session(folder: Path) -> None:
    path = folder / "tonight/session.yaml"
    path.write_text(path.read_text().replace("format: 1", "format: 2"))


def _no_wiring(folder: Path) -> None:
    path = folder / "tonight/session.yaml"
    path.write_text(path.read_text().replace("wiring: wiring.yaml\n", ""))


def _changed_di(folder: Path) -> None:
    samples, rate = soundfile.read(folder / "tonight/di/riff.r1.wav")
    soundfile.write(folder / "tonight/di/riff.r1.wav", samples / 2, rate, subtype="PCM_24")


def _broken_wiring(folder: Path) -> None:
    (folder / "tonight/wiring.yaml").write_text(ROOM.replace("close, input: 2", "close, input: 0"))


def _wiring_at_another_rate(folder: Path) -> None:
    (folder / "tonight/wiring.yaml").write_text(ROOM.replace("44100", "48000"))


SESSIONS: dict[str, tuple[Callable[[Path], object], tuple[str, ...]]] = {
    "missing": (lambda f: shutil.rmtree(f / "tonight"), ("no such folder", "secondpass new")),
    "no session in it": (
        lambda f: (f / "tonight/session.yaml").unlink(),
        ("no session.yaml", "secondpass new"),
    ),
    "broken": (_break_session, ("session.yaml, line 13", "channel is 0", "from 1")),
    "newer": (_newer_session, ("session.yaml, line 3", "newer program", "update")),
    "no wiring": (_no_wiring, ("has no wiring", "--wiring FILE")),
    "broken wiring": (_broken_wiring, ("wiring.yaml, line 11", "return input is 0", "from 1")),
    "wiring gone": (
        lambda f: (f / "tonight/wiring.yaml").unlink(),
        ("wiring.yaml", "no such file"),
    ),
    "wiring at another rate": (
        _wiring_at_another_rate,
        ("44100 Hz", "48000 Hz", "set sample_rate"),
    ),
    "DI changed": (_changed_di, ("di/riff.r1.wav", "not the file that was added", "new revision")),
    "DI deleted": (
        lambda f: (f / "tonight/di/riff.r1.wav").unlink(),
        ("di/riff.r1.wav", "No such file"),
    ),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", SESSIONS)
def test_a_session_that_cannot_be_played_claims_no_number(bench: Path, name: str) -> None:
    spoil, says = SESSIONS[name]
    spoil(bench)
    one_sentence(refused(bench, *PASS), *says)


def test_a_file_named_as_session_is_told(bench: Path) -> None:
    ran = refused(bench, "pass", "room.yaml", "--part", "riff", "--chain", "crunch")
    one_sentence(ran, "room.yaml", "this is a file", "name the session's folder")


@pytest.mark.parametrize("arguments", [PASS, ("add", "tonight", "--di", "riff.wav", "--part", "b")])
def test_a_session_held_by_another_program_names_the_holder(
    bench: Path, arguments: tuple[str, ...]
) -> None:
    with lock_session(bench / "tonight", program="secondpass open"):
        one_sentence(refused(bench, *arguments), "in use by secondpass open", "close it there")


# ---------------------------------------------------------------- the proof's own reach


def test_at_least_forty_kinds_of_bad_input_are_proven() -> None:
    assert len(WIRINGS) + len(DIS) + len(ARGUMENTS) + len(SESSIONS) >= 55
