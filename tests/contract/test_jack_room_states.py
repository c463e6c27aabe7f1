"""The states of set-up in the JACK room, by its arithmetic alone and over a real server."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, get_args

import numpy as np
import pytest
import yaml
from conformance import jack_wiring, run_clean
from device_probe import Ask
from jackroom.paths import Paths
from jackroom.rig import JackRoom
from jackroom.spec import Hum, Path, RoomSpec
from jackroom.states import (
    BOX_PATH,
    CLOSE,
    DI,
    FAR,
    LEAK_PATH,
    MIXER_FRAMES,
    MONITOR_LEAK,
    SEND,
    WIRE_FRAMES,
    WITNESS,
    State,
    room_in,
)
from needs import needs_jack

from audio.vocab.patching import AMP_HEARS, PatchName

RATE = 48_000
Floats = np.ndarray[Any, np.dtype[np.float64]]


class Bench:
    """A room run period by period, without a server."""

    def __init__(self, spec: RoomSpec, *, period: int = 512) -> None:
        self.spec = spec
        self.period = period
        self.paths = Paths(spec, rate=RATE)

    def hear(self, send: Floats) -> Floats:
        """Return what the inputs hold, shape (frames, inputs)."""
        sent = [np.zeros(send.size, dtype=np.float32) for _ in range(self.spec.outputs)]
        sent[SEND - 1][:] = send
        heard = [np.zeros(send.size, dtype=np.float32) for _ in range(self.spec.inputs)]
        for start in range(0, send.size, self.period):
            now = slice(start, start + self.period)
            self.paths.run([s[now] for s in sent], [h[now] for h in heard])
        return np.stack(heard, axis=1).astype(np.float64)


def bench(state: State, patch: PatchName = "amp") -> Bench:
    one = Bench(RoomSpec(**room_in(state)))  # type: ignore[arg-type]
    one.paths.patch(patch)
    return one


def tone(peak: float = 0.1) -> Floats:
    return peak * np.sin(2.0 * np.pi * 300.0 * np.arange(RATE) / RATE)


def db(signal: Floats) -> float:
    return float(10.0 * np.log10(np.mean(np.square(signal)) + 1e-30))


# ------------------------------------------------------------------ by arithmetic


@pytest.mark.parametrize(
    ("state", "expected_db"), [("right", 0.0), ("send 6 dB hot", 6.0), ("one leg dead", -6.02)]
)
def test_the_box_comes_back_into_the_di_input_as_loud_as_the_send_is(
    state: State, expected_db: float
) -> None:
    heard = bench(state, "box to DI input").hear(tone())[WIRE_FRAMES:, DI - 1]
    assert db(heard) - db(tone()[:-WIRE_FRAMES]) == pytest.approx(expected_db, abs=0.01)
    straight = bench(state, "send to input").hear(tone())[WIRE_FRAMES:, DI - 1]
    assert np.allclose(straight, tone()[:-WIRE_FRAMES], atol=1e-7)
    witness = bench(state).hear(tone())[WIRE_FRAMES:, WITNESS - 1]
    assert db(witness) - db(tone()[:-WIRE_FRAMES]) == pytest.approx(expected_db, abs=0.01)


@pytest.mark.parametrize("patch", get_args(PatchName))
def test_each_patch_leads_where_its_name_says(patch: PatchName) -> None:
    loud = {
        n for n, column in enumerate(bench("right", patch).hear(tone()).T, 1) if db(column) > -60.0
    }
    expected: set[int] = {CLOSE, FAR} if patch in AMP_HEARS else set()
    expected |= {WITNESS} if patch in AMP_HEARS | {"unplugged"} else {DI}
    assert loud == expected


@pytest.mark.parametrize(("state", "hz"), [("hum at 50", 50), ("hum at 60", 60)])
def test_hum_is_there_while_the_amp_is_plugged_and_less_with_the_lift(
    state: State, hz: int
) -> None:
    for patch, level_db in (
        ("amp", -50.0),
        ("plugged", -50.0),
        ("lifted", -80.0),
        ("unplugged", None),
    ):
        heard = bench(state, patch).hear(np.zeros(RATE))[:, CLOSE - 1]
        power = np.abs(np.fft.rfft(heard)) ** 2 / (RATE / 2) ** 2 / 2.0  # whole turns: bin by bin
        line_db = 10.0 * np.log10(power[hz : 6 * hz : hz].sum())
        if level_db is None:
            assert line_db < -110.0
        else:
            assert line_db == pytest.approx(level_db, abs=0.3)
        assert power[110 - hz] < 1e-11  # nothing at the other mains


def test_hum_goes_on_from_period_to_period() -> None:
    spec = RoomSpec(paths=(Path(output=SEND, input=2),), hums=(Hum(input=1, hz=49.97, rms=0.1),))
    one, other = (Bench(spec, period=p).hear(np.zeros(8192))[:, 0] for p in (128, 1024))
    assert np.max(np.abs(one - other)) < 1e-6
    assert db(Bench(spec).hear(np.zeros(RATE))[:, 0]) == pytest.approx(-20.0, abs=0.05)


def test_each_state_of_the_microphones_is_told_from_the_right_room() -> None:
    right = bench("right").hear(tone())
    wrong = bench("wrong input").hear(tone())
    assert db(wrong[:, DI - 1]) == pytest.approx(db(right[:, CLOSE - 1]), abs=0.1)
    assert db(wrong[:, CLOSE - 1]) < -80.0
    turned = bench("inverted microphone").hear(tone())
    assert np.corrcoef(turned[:, FAR - 1], right[:, FAR - 1])[0, 1] < -0.99
    assert np.corrcoef(turned[:, CLOSE - 1], right[:, CLOSE - 1])[0, 1] > 0.99
    dead = bench("dead microphone").hear(tone())
    assert db(dead[:, FAR - 1]) == pytest.approx(-84.0, abs=0.5)
    leak = bench("leak").hear(tone())[WIRE_FRAMES:, DI - 1]
    assert db(leak) - db(tone()[:-WIRE_FRAMES]) == pytest.approx(-40.0, abs=0.1)


def test_a_monitor_knob_moves_what_the_witness_hears_of_a_steady_tone() -> None:
    one = bench("monitor leak")
    before = db(one.hear(tone())[1024:, WITNESS - 1])
    one.paths.turn(LEAK_PATH, 0.0)
    after = db(one.hear(tone())[1024:, WITNESS - 1])
    # Two sines of one frequency, the second so much later: their sum has a closed form.
    turn = 2.0 * np.pi * 300.0 * MIXER_FRAMES / RATE
    expected = 20.0 * np.log10(abs(1.0 + MONITOR_LEAK * np.exp(-1j * turn)))
    assert before - after == pytest.approx(expected, abs=0.02)
    assert abs(expected) > 0.3


def test_a_knob_is_turned_on_the_path_of_its_number() -> None:
    paths = (Path(output=SEND, input=1), Path(output=SEND, input=2, gain=0.5, inverted=True))
    one = Bench(RoomSpec(paths=paths))
    one.hear(tone())
    one.paths.turn(2, 0.25)
    heard = one.hear(tone())
    assert np.allclose(heard[:, 0], tone(), atol=1e-7)
    assert np.allclose(heard[:, 1], -0.25 * tone(), atol=1e-7)


# ------------------------------------------------------------------ over the server


@needs_jack()
@pytest.mark.slow
def test_patch_and_knob_are_changed_under_a_running_server(
    jack_room: Callable[..., JackRoom],
) -> None:
    room = jack_room(rate=RATE, period=512, **room_in("send 6 dB hot"))
    assert [r["input"] for r in _returns(room)] == [CLOSE, FAR, WITNESS]

    def gains_db() -> list[float]:
        run = run_clean(Ask(wiring=jack_wiring(RATE), blocks=60), env=room.env, frames=16_384)
        return [db(run.heard[:, n - 1]) - db(run.sent[:, SEND - 1]) for n in (DI, CLOSE)]

    di, close = gains_db()
    assert di < -60.0 < -30.0 < close
    room.patch("box to DI input")
    di, close = gains_db()
    assert di == pytest.approx(6.0, abs=0.2)
    assert close < -60.0
    room.turn(BOX_PATH, 1.0)
    di, _ = gains_db()
    assert di == pytest.approx(0.0, abs=0.2)


def _returns(room: JackRoom) -> list[dict[str, Any]]:

    returns: list[dict[str, Any]] = yaml.safe_load(room.wiring_text())["returns"]
    return returns
