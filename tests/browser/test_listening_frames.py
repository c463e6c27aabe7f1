"""The listening page in step, to the frame: its own player, rendered by the browser as fast as it can."""

from __future__ import annotations

import base64
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from listening_pages import RATE, decoded, made, noise, parsed, session_of
from listening_seat import PART, opened
from needs import needs_browser
from selenium.webdriver import Chrome

pytestmark = needs_browser()

LEAD, TURN, FADE, SEAM = (round(seconds * RATE) for seconds in (0.08, 0.02, 0.01, 0.005))
"""As the page's script has them."""

NEAR = 2e-4
"""Of noise a frame beside the right one is off by a thousand times as much, mostly. A browser may take
codes over 32767 or 32768."""


RENDER = """
const [seconds, done] = arguments;
const acts = ACTS;
(async () => {
  const part = secondpass.page.data.parts[0];
  const context = new OfflineAudioContext(2, seconds * part.rate, part.rate);
  const store = new secondpass.Store();
  const player = new secondpass.Player({ context, part, store });
  const all = [...part.sounds, ...(part.backing ? [part.backing] : [])].flatMap(({ track }) =>
    Array.from({ length: track.to + 1 - track.from }, (_, n) =>
      ({ id: track.id, number: track.from + n, rate: part.rate })));
  while (all.some((one) => !store.get(one.id, one.number))) {
    store.want(all);
    await new Promise((next) => setTimeout(next, 5));
  }
  const log = [];
  const todo = new Map(Object.entries(acts).map(([at, act]) => [Number(at), act]));
  const ticks = Array.from({ length: Math.floor(seconds / 0.25) }, (_, n) => n / 4);
  for (const at of new Set([...ticks.slice(1), ...todo.keys()])) {
    if (at === 0) continue;
    context.suspend(at).then(() => {
      if (todo.has(at)) {
        log.push([at, player.now()]);
        todo.get(at)(player, store);
      }
      player.tick();
      context.resume();
    }).catch((error) => done({ error: String(error.stack) }));
  }
  if (todo.has(0)) todo.get(0)(player, store);
  player.play();
  const sound = await context.startRendering();
  const bytes = new Uint8Array(sound.getChannelData(0).buffer);
  let text = "";
  for (let k = 0; k < bytes.length; k += 32768) {
    text += String.fromCharCode(...bytes.subarray(k, k + 32768));
  }
  done({ sound: btoa(text), log });
})().catch((error) => done({ error: String(error) }));
"""


def rendered(
    page: Chrome, seconds: int, acts: dict[float, str]
) -> tuple[np.ndarray, dict[float, int]]:
    """Play on a context that renders as fast as it can; return the left channel and when what was done."""
    page.set_script_timeout(10)
    source = ", ".join(f"{at:.17g}: (player, store) => {{ {act} }}" for at, act in acts.items())
    found = page.execute_async_script(RENDER.replace("ACTS", f"{{ {source} }}"), seconds)
    assert "error" not in found, found
    sound = np.frombuffer(base64.b64decode(found["sound"]), dtype="<f4").astype(float)
    return sound, dict(found["log"])


class Heard:
    """What each sound of the first part is at the page's gains, by frame of the part."""

    def __init__(self, folder: Path, which: str = "matched") -> None:
        part = parsed(folder).data["parts"][0]
        self.frames: int = part["frames"]
        self.sounds = [self._sound(folder, one, one[which]) for one in part["sounds"]]
        under = part["backing"]
        self.backing = self._sound(folder, under, under[which]) if under else None

    def _sound(self, folder: Path, one: dict[str, Any], gain: float) -> np.ndarray:
        codes, _ = decoded(folder, one["track"]["id"])
        sound = np.zeros(self.frames)
        sound[: len(codes)] = codes[: self.frames, 0] / 2.0**15 * gain
        return sound


def test_a_flip_keeps_every_frame_in_its_place_and_fades_with_equal_power(
    page: Chrome, folder: Path
) -> None:
    heard = Heard(folder)
    sound, at = rendered(page, 4, {1.0: "player.flip(1)", 2.5: "player.flip(2); player.flip(0)"})
    first, second, third = heard.sounds[:3]
    assert not np.any(sound[:LEAD])
    begin, fade = at[1.0] + TURN - LEAD, np.linspace(0.0, np.pi / 2.0, FADE, endpoint=False)
    moved = at[2.5] + TURN - LEAD
    played = sound[LEAD:]
    assert np.max(np.abs(played[SEAM:begin] - first[SEAM:begin])) < NEAR
    flip = slice(begin, begin + FADE)
    assert (
        np.max(np.abs(played[flip] - np.cos(fade) * first[flip] - np.sin(fade) * second[flip]))
        < 5e-4
    )
    assert np.max(np.abs(played[begin + FADE : moved] - second[begin + FADE : moved])) < NEAR
    # two flips at once: the second waits for the end of the first, 10 ms
    again = moved + FADE + 1
    flip, back = slice(moved, moved + FADE), slice(again, again + FADE)
    assert (
        np.max(np.abs(played[flip] - np.cos(fade) * second[flip] - np.sin(fade) * third[flip]))
        < 5e-4
    )
    assert (
        np.max(np.abs(played[back] - np.cos(fade) * third[back] - np.sin(fade) * first[back]))
        < 5e-4
    )
    end = sound.size - LEAD
    assert np.max(np.abs(played[again + FADE :] - first[again + FADE : end])) < NEAR


def test_a_page_at_44100_hz_made_of_88200_keeps_every_frame_as_well(
    chromium: Chrome, tmp_path: Path
) -> None:
    mics = [{"close": noise(seed, seconds=2.5, rate=88_200)} for seed in (1, 2)]
    session = session_of(tmp_path, {PART: mics}, rate=88_200)
    made(session, [(PART, 1), (PART, 2)], tmp_path / "listen")
    opened(chromium, tmp_path / "listen")
    acts = {f: f"player.flip({k % 2})" for k, f in enumerate((0.5, 0.9, 1.3, 2.3), start=1)}
    sound, at = rendered(chromium, 3, acts)
    heard = Heard(tmp_path / "listen")
    lead, fade, seam, turn = (int(44_100 * s + 0.5) for s in (0.08, 0.01, 0.005, 0.02))
    played = sound[lead : lead + heard.frames]
    edges = [seam, *(frame + turn - lead for frame in at.values()), heard.frames - seam]
    for k, (begin, end) in enumerate(pairwise(edges)):
        there = slice(begin + fade * (k > 0), end)
        assert np.max(np.abs(played[there] - heard.sounds[k % 2][there])) < NEAR


def test_flips_in_quick_succession_never_stumble_over_each_other(page: Chrome) -> None:
    acts = {0.1 + k * 0.008: f"player.flip({k % 4})" for k in range(1, 100)}
    sound, at = rendered(page, 2, acts)
    assert len(at) == len(acts)
    assert np.max(np.abs(sound)) < 1.0


def test_a_loop_jumps_on_the_frame_again_and_again(page: Chrome, folder: Path) -> None:
    heard = Heard(folder)
    start, end = 2 * RATE - 777, 3 * RATE + 555  # across a joint of two pieces
    act = f"player.loop = {{ from: {start}, to: {end} }}; player.position = {start}"
    sound, _ = rendered(page, 6, {0: act})
    played, first = sound[LEAD:], heard.sounds[0]
    length = end - start
    shape = np.ones(played.size)
    for k in range(1, played.size // length + 1):
        ramp = np.abs(np.arange(-SEAM, SEAM + 1)) / SEAM
        there = shape[k * length - SEAM : k * length + SEAM + 1]
        there[:] = ramp[: there.size]
    wanted = first[start + np.arange(played.size) % length] * shape
    assert np.max(np.abs(played - wanted)[SEAM:]) < NEAR


def test_the_whole_part_goes_round_and_a_stretch_that_is_set_is_gone_to_at_once(
    page: Chrome, folder: Path
) -> None:
    heard = Heard(folder)
    act = "player.position = 192000; player.goRound({ from: 0, to: player.part.frames })"
    sound, at = rendered(page, 4, {0: act, 2.0: "player.goRound({ from: 150000, to: 200000 })"})
    played, first = sound[LEAD:], heard.sounds[0]
    left = heard.frames - 192_000
    before, jump = (
        left - SEAM,
        at[2.0],
    )  # what starts is scheduled LEAD ahead, as the first frame was
    assert np.max(np.abs(played[SEAM:before] - first[192_000 + SEAM : 192_000 + before])) < NEAR
    inside = slice(left + SEAM + 1, jump - SEAM)
    assert np.max(np.abs(played[inside] - first[inside.start - left : inside.stop - left])) < NEAR
    behind = played[jump + SEAM + 1 : jump + 49_000]
    assert np.max(np.abs(behind - first[150_000 + SEAM + 1 : 199_000])) < NEAR


def test_a_loop_set_around_what_plays_changes_no_frame(page: Chrome, folder: Path) -> None:
    act = "player.goRound({ from: 0, to: 200000 }); player.goRound({ from: 1000, to: 210000 })"
    sound, _ = rendered(page, 3, {1.0: act})
    first = Heard(folder).sounds[0]
    assert np.max(np.abs(sound[LEAD + SEAM :] - first[SEAM : sound.size - LEAD])) < NEAR


def test_a_piece_that_comes_late_joins_in_step(page: Chrome, folder: Path) -> None:
    heard = Heard(folder)
    hide = "const id = player.sounds[1].track.id; player.flip(1); for (const n of [0, 1])"
    hide += " { const key = `${id}-${n}`; (store.held ??= new Map()).set(key, store.kept.get(key));"
    hide += " store.kept.delete(key); store.loading.add(key); }"
    show = "for (const [key, buffer] of store.held) store.keep(key, buffer);"
    sound, at = rendered(page, 4, {0: hide, 1.0: show})
    played, second = sound[LEAD:], heard.sounds[1]
    joined = at[1.0]
    quiet = slice(FADE + TURN, joined - 1)
    assert np.max(np.abs(played[quiet])) < 1e-6
    behind = slice(joined + SEAM + 1, sound.size - LEAD)
    assert np.max(np.abs(played[behind] - second[behind])) < NEAR


def test_the_backing_track_lies_where_it_belongs_and_all_together_never_clip(
    page: Chrome, folder: Path
) -> None:
    heard = Heard(folder)
    sound, _ = rendered(page, 4, {0: "player.backing = 1; player.level(0)"})
    assert heard.backing is not None
    wanted = (heard.sounds[0] + heard.backing)[: sound.size - LEAD]
    assert np.max(np.abs(sound[LEAD + SEAM :] - wanted[SEAM:])) < NEAR
    assert np.max(np.abs(sound)) < 10 ** (-1 / 20)


def test_sounds_may_be_heard_as_loud_as_they_are(page: Chrome, folder: Path) -> None:
    plain = Heard(folder, "plain").sounds[0]
    sound, _ = rendered(page, 1, {0: "player.matched = false; player.level(0)"})
    assert np.max(np.abs(sound[LEAD + SEAM :] - plain[SEAM : sound.size - LEAD])) < NEAR
