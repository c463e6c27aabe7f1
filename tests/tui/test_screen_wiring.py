"""The wiring, chosen on the screen: rows stepped, a microphone named, saved as a file, or left alone."""

from __future__ import annotations

from pathlib import Path

import pytest
from needs import needs_samples
from rooms import RATE, make_session, room, wired
from screens import Seat, play, seated

from audio.jobs import news
from audio.vocab.devices import DeviceFacts, DeviceList
from audio.vocab.wiring import Cue, Loop, PortAudioDevice
from audio.vocab.wiring_file import read_wiring
from tui.screens.wiring import HEAD, WiringScreen

pytestmark = needs_samples()

INTERFACE = DeviceFacts(host="ALSA", name="desk 8x8", inputs=8, outputs=8, default_rate=float(RATE))
MICROPHONE = DeviceFacts(host="ALSA", name="webcam", inputs=1, outputs=0, default_rate=48_000.0)


async def offered(seat: Seat, *devices: DeviceFacts) -> None:
    """Let the system offer these devices, whatever this machine has."""
    await seat.until(lambda: seat.desk.model.devices is not None, "the system never answered")
    await seat.told(news.Devices(devices=DeviceList(devices=devices)))


async def row(seat: Seat, number: int) -> None:
    """Go to a row, counted from the top."""
    assert isinstance(seat.desk.screen, WiringScreen)
    steps = number - seat.desk.screen._row
    await seat.press(*["down" if steps > 0 else "up"] * abs(steps))


async def outputs_are_stepped(seat: Seat) -> None:
    """Move the send, let people listen, wire a loop."""
    await row(seat, 2)
    await seat.press("right")
    await seat.sees("output 4")
    await seat.press("left", "left")
    await seat.sees("▸ send output 2")
    await row(seat, 3)
    await seat.press("right")
    await seat.sees("outputs 3 and 4")
    await row(seat, HEAD.index("backing"))
    await seat.press("right", "right")
    await seat.sees("backing \N{MINUS SIGN}18 dB")
    await row(seat, HEAD.index("count-in"))
    await seat.press("right")
    await seat.sees("count-in 1 bar")
    await row(seat, HEAD.index("loop"))
    await seat.press("right")
    await seat.sees("output 1 → input 1")


async def inputs_are_given_their_work(seat: Seat) -> None:
    """Give one input a witness, name the microphone on another, make it the reference."""
    await row(seat, len(HEAD) + 3)
    await seat.press("right", "right", "right")
    await seat.sees("in 4 witness")
    await row(seat, len(HEAD) + 2)
    await seat.press_named("n")
    await seat.sees("Which microphone is on input 3?")
    await seat.press(*["backspace"] * 4)
    await seat.type("far")
    await seat.press("enter")
    await seat.sees("in 3 return far")
    await row(seat, len(HEAD) + 1)
    await seat.press("left", "left")
    await row(seat, len(HEAD) + 2)
    await seat.press_named("enter")
    await seat.sees("in 2 not used", "in 3 reference far")


@pytest.mark.slow
def test_a_wiring_is_changed_row_by_row_and_saved_as_a_new_file(tmp_path: Path) -> None:
    session = make_session(tmp_path, wiring=wired(room(pace="clock")))

    async def flow() -> None:
        async with seated(session.folder) as seat:
            await seat.walk_to("send")
            await seat.press_named("w")
            await offered(seat, INTERFACE, MICROPHONE)
            shown = await seat.sees("simulated room", "4 in, 4 out", f"{RATE} Hz", "output 3")
            assert "reference" in shown
            await seat.fits_everywhere()
            await seat.press("o")  # levels of every input; nothing is sent
            await seat.sees("tap a microphone", "dBFS")
            await seat.done()
            await seat.sees("nothing sounds", "in 4")
            await seat.fits_everywhere()
            await outputs_are_stepped(seat)
            await inputs_are_given_their_work(seat)
            await seat.press_named("w")
            await seat.sees("Save this wiring as a new file")
            await seat.press("enter")
            await seat.done()
            shown = await seat.sees("▸send", "output 2", "outputs 3, 4", "input 4")
            assert "■ set" in shown
            await seat.fits_everywhere()
            assert seat.desk.model.stream_wiring == seat.desk.model.wiring()

    play(flow())
    assert "wiring: wirings/tracking-room.yaml" in (session.folder / "session.yaml").read_text()
    saved = read_wiring(session.folder / "wirings" / "tracking-room.yaml")
    assert saved.send_output == 2
    assert saved.listen_outputs == (3, 4)
    assert saved.cue == Cue(backing_db=-18.0, count_in_bars=1)
    assert saved.loop == Loop(output=1, input=1)
    assert saved.witness_input == 4
    assert [(one.name, one.input) for one in saved.returns] == [("far", 3)]
    assert saved.reference == "far"
    before = read_wiring(session.folder / "wiring.yaml")
    assert before == wired(room(pace="clock"))  # what was there stays there


def test_leaving_the_wiring_changes_nothing(tmp_path: Path) -> None:
    session = make_session(tmp_path, wiring=wired(room()))
    before = (session.folder / "session.yaml").read_bytes()

    async def flow() -> None:
        async with seated(session.folder) as seat:
            await seat.press("w")
            await offered(seat, INTERFACE)
            await seat.press("right")
            await seat.sees("desk 8x8", "8 in, 8 out")
            await row(seat, 1)
            await seat.press("right")
            await seat.sees("48000 Hz")
            await seat.press_named("w")  # an interface without a microphone on it
            await seat.sees("no input is a return yet")
            await seat.press("escape")
            await seat.fits_everywhere()
            await seat.press_named("escape")
            shown = await seat.sees("simulated room", "■ set")
            assert "desk 8x8" not in shown
            assert seat.desk.model.wiring() == wired(room())

    play(flow())
    assert (session.folder / "session.yaml").read_bytes() == before
    assert not (session.folder / "wirings").exists()


def test_a_session_without_a_wiring_is_wired_from_the_screen(tmp_path: Path) -> None:
    session = make_session(tmp_path, wiring=None)

    async def flow() -> None:
        async with seated(session.folder) as seat:
            shown = await seat.sees("▸send", "press w to choose the device", "no wiring yet")
            assert "o open the stream" not in shown
            await seat.fits_everywhere()
            await seat.press_named("w")
            await offered(seat)
            await seat.sees("none there")
            await seat.press_named("w")
            await seat.sees("no audio device is there; connect one and press r")
            await seat.press("escape")
            await offered(seat, MICROPHONE, INTERFACE)
            shown = await seat.sees("desk 8x8 · ALSA", "8 in, 8 out", "output 3", "outputs 1 and 2")
            assert "webcam" not in shown  # it cannot play and record on one clock
            await seat.fits_everywhere()
            await row(seat, len(HEAD) + 1)
            await seat.press("right")
            await seat.sees("in 2 return mic 2")
            await seat.press_named("w")
            await seat.press("enter")
            await seat.done()
            shown = await seat.sees("▸send", "desk 8x8", "output 3", "closed", "□ not set")
            assert "wirings/tonight.yaml" in shown
            assert "o open the stream" in shown
            await seat.fits_everywhere()

    play(flow())
    saved = read_wiring(session.folder / "wirings" / "tonight.yaml")
    assert saved.device == PortAudioDevice(host="ALSA", name="desk 8x8")
    assert (saved.send_output, saved.listen_outputs, saved.reference) == (3, (1, 2), "mic 2")
    assert saved.sample_rate == RATE  # the DI's own, as nothing else was said
