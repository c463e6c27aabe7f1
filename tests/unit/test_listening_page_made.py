"""The listening page as it is made of a session: what it plays and says, made again, hostile names."""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np
import pytest
from listening_pages import (
    DI_AT,
    NAME,
    RATE,
    TOKEN,
    Here,
    Parsed,
    decoded,
    leave,
    made,
    noise,
    parsed,
    session_of,
)
from matched import referee_lufs

from audio.handover.page import index_html
from audio.jobs.deck import StoppedError
from audio.session.opened import Session
from audio.session.opinions import say
from audio.vocab.balance import Balance, Fader
from audio.vocab.errors import UseError
from audio.vocab.findings import Finding
from audio.vocab.page import Page, PagePart, PageSong, PageSound, PageTrack
from audio.vocab.requests import MakePiece, MatchSounds
from audio.vocab.section import Covers

PART = "riff"
LSB = 1.0 / 2**15
SECONDS = 2.5


@pytest.fixture
def session(tmp_path: Path) -> Session:
    """Two variants of two microphones, the second one 6 dB louder, an original; 120 bpm: 2 s a bar."""
    one = {"close": noise(1, seconds=SECONDS), "room": noise(2, seconds=SECONDS)}
    two = {mic: 2.0 * noise(seed, seconds=SECONDS) for mic, seed in (("close", 3), ("room", 4))}
    return session_of(tmp_path, {PART: [one, two]}, originals={"close": noise(5, seconds=2)})


def kept(session: Session, number: int, **db: float) -> None:
    faders = tuple(Fader(name=name, db=value) for name, value in db.items())
    say(session, PART, number, balance=Balance(faders=faders), keeper=True, reason="more bite")


# ------------------------------------------------------------------ what it plays


def test_each_sound_is_its_microphones_at_the_keeper_s_balance_and_no_louder_than_the_quietest(
    session: Session, tmp_path: Path
) -> None:
    kept(session, 2, room=-6.0)
    assert made(session, [(PART, 2), (PART, 1)], tmp_path / "listen") == ()
    part = parsed(tmp_path / "listen").data["parts"][0]
    assert [one["key"] for one in part["sounds"]] == ["002", "001", "original:close"]
    close, room = 2.0 * noise(3, seconds=SECONDS), 2.0 * noise(4, seconds=SECONDS)
    wanted = [
        close + room * 10 ** (-6 / 20),
        noise(1, seconds=SECONDS) + noise(2, seconds=SECONDS),
        noise(5, seconds=2),
    ]
    heard = []
    for one, sound in zip(part["sounds"], wanted, strict=True):
        codes, rate = decoded(tmp_path / "listen", one["track"]["id"])
        there = codes[:, 0] / 2.0**15
        assert (rate, one["track"]["frames"]) == (RATE, round(SECONDS * RATE))
        file_gain = float(np.dot(there[: sound.size], sound) / np.dot(sound, sound))
        assert np.max(np.abs(there[: sound.size] - file_gain * sound)) <= 1.6 * LSB
        silence = np.zeros(part["frames"] - there.size)  # pieces behind its end are not there
        heard.append(np.concatenate([there, silence]) * one["matched"])
    # by pyloudnorm, at the gains with which the page plays them
    loudness = [referee_lufs(one) for one in heard]
    assert max(loudness) - min(loudness) < 0.05
    # an equal-power flip between any two of them stays under −1 dBFS
    assert math.sqrt(2.0) * max(np.max(np.abs(one)) for one in heard) < 10 ** (-1 / 20)


def test_a_sound_without_the_match_keeps_its_distance_to_the_others(
    session: Session, tmp_path: Path
) -> None:
    made(session, [(PART, 1), (PART, 2)], tmp_path / "listen")
    sounds = parsed(tmp_path / "listen").data["parts"][0]["sounds"]
    peaks = [
        np.max(np.abs(decoded(tmp_path / "listen", one["track"]["id"])[0])) * one["plain"]
        for one in sounds[:2]
    ]
    assert 20 * math.log10(peaks[1] / peaks[0]) == pytest.approx(6.02, abs=0.3)


def test_bars_lie_where_the_tempo_puts_them(session: Session, tmp_path: Path) -> None:
    made(session, [(PART, 1)], tmp_path / "listen")
    part = parsed(tmp_path / "listen").data["parts"][0]
    assert (part["firstBar"], part["bars"]) == (1, [0, 2 * RATE, round(SECONDS * RATE)])


def test_the_backing_track_lies_where_its_time_stamp_puts_it_and_is_cut_once_for_all_parts(
    tmp_path: Path,
) -> None:
    backing = np.stack([noise(8, seconds=3), noise(9, seconds=3)], axis=1)
    session = session_of(
        tmp_path,
        {PART: [{"close": noise(1, seconds=1)}], "hook": [{"close": noise(2, seconds=1)}]},
        backing=backing,
        backing_at=DI_AT - RATE,
    )
    made(session, [(PART, 1), ("hook", 1)], tmp_path / "listen")
    first, second = (one["backing"] for one in parsed(tmp_path / "listen").data["parts"])
    assert first["track"] == second["track"]
    assert first["track"]["at"] == -RATE
    codes, _ = decoded(tmp_path / "listen", first["track"]["id"])
    assert codes.shape == (3 * RATE, 2)
    assert np.max(np.abs(codes / 2.0**15 - backing)) <= 1.6 * LSB


def test_a_section_has_no_pieces_where_it_is_silent(session: Session, tmp_path: Path) -> None:
    long = {"close": noise(10, seconds=12)}
    leave(session, PART, long, chain="long")
    covers = Covers(text="bars 6-6", from_frame=10 * RATE, frames=RATE,
                    section_from_frame=10 * RATE, section_to_frame=11 * RATE)  # fmt: skip
    number = leave(session, PART, {"close": noise(11, seconds=1)}, chain="part",
                   at=DI_AT + 10 * RATE + 5, covers=covers)  # fmt: skip
    made(session, [(PART, 3), (PART, number)], tmp_path / "listen")
    page = parsed(tmp_path / "listen")
    whole, section = (one["track"] for one in page.data["parts"][0]["sounds"][:2])
    assert (whole["from"], whole["to"]) == (0, 2)
    assert (section["from"], section["to"]) == (2, 2)
    codes, _ = decoded(tmp_path / "listen", section["id"])
    assert not np.any(codes[:5])
    assert np.any(codes[5])
    assert "bars 6-6 only, silent elsewhere" in page.text


def apart(codes: np.ndarray, sound: np.ndarray) -> float:
    """Return by how much codes differ from a sound at the gain that fits best, far from its ends."""
    middle = slice(1000, len(codes) - 1000)
    there, wanted = codes[middle] / 2.0**15, sound[middle]
    gain = np.dot(there, wanted) / np.dot(wanted, wanted)
    return float(np.max(np.abs(there - gain * wanted)))


def test_a_session_at_96_khz_is_played_at_48(tmp_path: Path) -> None:
    rate = 2 * RATE
    tone = 0.2 * np.sin(2 * np.pi * 1000 * np.arange(rate) / rate)
    session = session_of(
        tmp_path, {PART: [{"close": tone}]}, rate=rate, backing=tone, backing_at=DI_AT - 3
    )
    made(session, [(PART, 1)], tmp_path / "listen")
    part = parsed(tmp_path / "listen").data["parts"][0]
    assert (part["rate"], part["frames"]) == (RATE, RATE)
    codes, there = decoded(tmp_path / "listen", part["sounds"][0]["track"]["id"])
    assert there == RATE
    assert apart(codes[:, 0], tone[::2]) < 3 * LSB
    # the track begins 3 frames early: its first frame that the part plays too is its second one
    track, _ = decoded(tmp_path / "listen", part["backing"]["track"]["id"])
    assert part["backing"]["track"]["at"] == -1
    assert apart(track[:, 0], tone[1::2]) < 3 * LSB


# ------------------------------------------------------------------ what it says


def test_the_page_says_why_a_sound_was_kept_what_is_wrong_with_it_and_where_an_original_lies(
    session: Session, tmp_path: Path
) -> None:
    kept(session, 1)
    hum = Finding(code="hum", weight="look", text="hum 6 dB over the last take")
    number = leave(session, PART, {"close": noise(12, seconds=1)}, chain="tired cable", verdict="look",
                   findings=(hum,))  # fmt: skip
    made(session, [(PART, 1), (PART, number)], tmp_path / "listen",
         offsets={(PART, "close"): "2.8 ms later than its DI"})  # fmt: skip
    text = parsed(tmp_path / "listen").text
    assert "more bite" in text
    assert "look: hum 6 dB over the last take" in text
    assert "lies 2.8 ms later than its DI" in text
    assert "variant 001" in text
    assert "good" not in text
    assert f"{NAME}" in text
    assert TOKEN in text


def test_what_cannot_be_played_is_left_out_and_said(session: Session, tmp_path: Path) -> None:
    next((session.folder / "passes" / PART / "002").glob("*room.wav")).unlink()
    left = made(session, [(PART, 1), (PART, 2), (PART, 9)], tmp_path / "listen")
    assert len(left) == 2
    assert left[0].startswith("riff 009 is not on the listening page")
    assert left[1].startswith("riff, crunch, is not on the listening page")
    keys = [one["key"] for one in parsed(tmp_path / "listen").data["parts"][0]["sounds"]]
    assert keys == ["001", "original:close"]


def test_a_page_without_a_sound_is_refused(session: Session, tmp_path: Path) -> None:
    with pytest.raises(UseError, match="would be empty: no sound was named"):
        made(session, [], tmp_path / "listen")
    assert not (tmp_path / "listen/index.html").exists()


# ------------------------------------------------------------------ made again


def test_a_page_that_was_stopped_goes_on_where_it_was(session: Session, tmp_path: Path) -> None:
    to = tmp_path / "listen"
    sounds = [(PART, 1), (PART, 2)]
    worker = Here()
    with pytest.raises(StoppedError):
        made(session, sounds, to, worker=worker, stop=lambda: worker.count(MakePiece) == 3)
    assert not (to / "index.html").exists()
    there = {path.name: path.stat().st_mtime_ns for path in to.glob("sounds/*.js")}
    assert len(there) == 3
    damaged = next(to.glob("sounds/*.js"))
    damaged.write_bytes(damaged.read_bytes()[:-100])
    (to / "sounds/.half.js.0.tmp").write_bytes(b"torn")
    again = Here()
    made(session, sounds, to, worker=again)
    assert again.count(MatchSounds) == 0
    whole = {path.name: path.stat().st_mtime_ns for path in to.glob("sounds/*.js")}
    assert len(whole) == 5
    assert again.count(MakePiece) == 3
    same = [name for name in there if name != damaged.name]
    assert all(whole[name] == there[name] for name in same)
    assert sorted(path.name for path in to.iterdir()) == ["index.html", "page.js", "sounds"]
    assert all(path.suffix == ".js" and path.name[0] != "." for path in (to / "sounds").iterdir())


def test_a_page_that_is_whole_is_made_again_without_a_piece_and_to_the_same_bytes(
    session: Session, tmp_path: Path
) -> None:
    to = tmp_path / "listen"
    made(session, [(PART, 1)], to)
    before = {path: path.read_bytes() for path in to.rglob("*.*")}
    worker = Here()
    made(session, [(PART, 1)], to, worker=worker)
    assert worker.count(MakePiece) == 0
    assert {path: path.read_bytes() for path in to.rglob("*.*")} == before


def test_another_balance_is_another_sound(session: Session, tmp_path: Path) -> None:
    to = tmp_path / "listen"
    made(session, [(PART, 1)], to)
    before = {path.name for path in (to / "sounds").iterdir()}
    kept(session, 1, room=-12.0)
    made(session, [(PART, 1)], to)
    after = {path.name for path in (to / "sounds").iterdir()}
    assert len(after) == len(before)
    assert after != before


# ------------------------------------------------------------------ hostile names

HOSTILE = (
    "</script><script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "</bdi></li></ol><!--",
    "--> ' \" & &lt; &#60;",
    "\u202egnp.exe\u2066",
    "a\u2028b\u2029c",
    "\x00\x1b[2J",
)


def page_of(name: str) -> Page:
    track = PageTrack(id="abc", frames=RATE, last=0)
    sound = PageSound(key="001", title=name, reason=name, trouble=name, lies=name, covers=name,
                      loudness_lufs=-20.0, track=track)  # fmt: skip
    original = PageSound(key=f"original:{name}", title=f"original, {name}", track=track)
    part = PagePart(name=name, rate=RATE, frames=RATE, sounds=(sound, original))
    return Page(session=name, name=NAME, token=TOKEN, songs=(PageSong(name=name, parts=(part,)),))


@pytest.mark.parametrize("name", HOSTILE)
def test_no_name_breaks_out_of_the_page(name: str) -> None:
    plain, hostile = Parsed(index_html(page_of("plain"))), Parsed(index_html(page_of(name)))
    assert hostile.tags() == plain.tags()
    attributes = [sorted(attrs) for _, attrs in hostile.elements]
    assert attributes == [sorted(attrs) for _, attrs in plain.elements]
    assert hostile.data["parts"][0]["name"] == name
    assert hostile.data["parts"][0]["sounds"][1]["key"] == f"original:{name}"
    raw = index_html(page_of(name))
    assert raw.count("<script") == 2
    assert not any(c in raw for c in "\u202e\u2066\u2028\u2029\x00\x1b")


def test_everything_a_page_loads_lies_beside_it(session: Session, tmp_path: Path) -> None:
    made(session, [(PART, 1)], tmp_path / "listen")
    raw = (tmp_path / "listen/index.html").read_text() + (tmp_path / "listen/page.js").read_text()
    assert not re.search("https?:|url\\(|@import|[\"'(]//", raw)
    loaded = [attrs["src"] for _, attrs in parsed(tmp_path / "listen").elements if "src" in attrs]
    assert loaded == ["page.js"]


def test_the_page_without_its_sounds_is_small(session: Session, tmp_path: Path) -> None:
    made(session, [(PART, 1), (PART, 2)], tmp_path / "listen")
    size = sum((tmp_path / "listen" / name).stat().st_size for name in ("index.html", "page.js"))
    assert size < 60_000
