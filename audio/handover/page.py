"""The listening page's text, made of values."""

from __future__ import annotations

from importlib.resources import files
from itertools import chain, count
from typing import Any

from audio.handover.markup import data, hashed, own, said
from audio.vocab.layers import variant_number
from audio.vocab.page import (
    BACKING_DB,
    EACH_S,
    FIRST_S,
    Page,
    PagePart,
    PageSound,
    PageTrack,
)
from audio.vocab.units import ratio_from_db, shortest, signed

SCRIPT = "page.js"
"""Beside ``index.html``."""

_SCRIPTS = ("choice.js", "pieces.js", "player.js", "part.js", "playing.js", "page.js")
"""In the order in which they build on each other."""

_KEYS = (
    ("space", "play, stop"),
    ("1 to 9", "that sound of the part"),
    ("← →", "the sound beside"),
    ("[ ]", "loop from here, to here"),
    ("w", "loop the whole part"),
    ("b", "backing track on, off"),
    ("n p", "next part, part before"),
)


def script() -> str:
    """Return the page's script, a file beside it; remarks and indentation stay at home."""
    lines = "\n".join(_own(name) for name in _SCRIPTS).splitlines()
    kept = [one for one in map(str.strip, lines) if one and not one.startswith("//")]
    return "\n".join(['"use strict";', "(() => {", *kept, "})();", ""])


def index_html(page: Page) -> str:
    """Return the page itself: all words are in it, the script only plays and chooses."""
    style = _own("page.css")
    numbers = count()
    songs = "".join(
        f'<section aria-labelledby="song-{at}"><h2 id="song-{at}">{own(song.name)}</h2>'
        f"{''.join(_part(part, next(numbers)) for part in song.parts)}</section>"
        for at, song in enumerate(page.songs)
    )
    policy = (
        f"default-src 'none'; script-src 'self'; style-src {hashed(style)}; img-src data:;"
        " base-uri 'none'; form-action 'none'"
    )
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="{said(policy)}">
<title>{said(page.session)}: listen and choose</title>
<link rel="icon" href="data:,">
<style>{style}</style>
<script type="application/json" id="data">{data(_told(page))}</script>
<script src="{SCRIPT}" defer></script>
</head>
<body>
<header>
<h1>{own(page.session)}: listen and choose</h1>
<p>The sounds of a part play in step and equally loud, and you hear one of them. Flip while it plays,
choose, send your choice back.</p>
<p class="first">Turn your headphones down first, then up while it plays.</p>
<noscript><p class="first">This page needs JavaScript to play: allow it for this page, or open the page in
another browser.</p></noscript>
<p id="trouble" role="alert" hidden></p>
<p class="needs-script"><button type="button" id="hide-all">Listen blind: hide all names</button></p>
</header>
<div class="page">
<main>
{songs}
{_CHOICE}
{_help()}
<p class="soft small">{own(page.name)}, {said(page.token)}</p>
</main>
{_PLAYER}
</div>
<p id="said" class="unseen" role="status"></p>
</body>
</html>
"""


def _own(name: str) -> str:
    return files(__package__).joinpath("listening", name).read_text(encoding="utf-8")


# ---------------------------------------------------------------- parts


def _part(part: PagePart, at: int) -> str:
    rows = "".join(_row(one, f"p{at}s{k}") for k, one in enumerate(part.sounds))
    matched = f'<p class="hint">{_matched(part)}</p>\n' if len(part.sounds) > 1 else ""
    return f"""
<section class="part" aria-labelledby="part-{at}">
<div class="top"><h3 id="part-{at}">{own(part.name)}</h3>
<button type="button" class="hide needs-script" aria-describedby="part-{at}">Hide the names</button></div>
<ol class="sounds" aria-labelledby="part-{at}">{rows}</ol>
{matched}<label class="remark needs-script">A remark on {own(part.name)}
<input type="text" class="words" maxlength="200" autocomplete="off"></label>
</section>"""


def _matched(part: PagePart) -> str:
    down = shortest(round(-part.cut_matched_db, 1) + 0.0)
    more = f", and all are turned down by {down} dB, so that nothing clips" if down != "0" else ""
    return f"Matched in loudness to the quietest of them{more}."


def _row(one: PageSound, mark: str) -> str:
    number = variant_number(one.key)
    told = f'<span class="number told">variant {said(one.key)}</span>' if number else ""
    notes = "".join(f'<span class="notes told">{note}</span>' for note in _notes(one))
    return f"""
<li class="row"><button type="button" class="sound" aria-pressed="false"
 aria-labelledby="{mark} {mark}s" aria-describedby="{mark}n"><span class="digit" aria-hidden="true"></span>
<span><bdi class="name" id="{mark}">{said(one.title)}</bdi> {told}</span>
<span class="state" id="{mark}s"></span>
<span id="{mark}n" class="notes">{notes}</span></button>
<button type="button" class="choose needs-script" aria-pressed="false">choose</button></li>"""


def _notes(one: PageSound) -> list[str]:
    """Return what is said of a sound, a line each, ready for the page."""
    found = [f"“{own(one.reason)}”"] if one.reason else []
    found += [own(told) for told in (one.lies, one.trouble) if told]
    if one.covers:
        found.append(f"{own(one.covers)} only, silent elsewhere")
    if one.loudness_lufs is None:
        return [*found, "silent, or too short to be matched in loudness"]
    down = shortest(round(-one.match_db, 1) + 0.0)  # never −0
    turned = f", turned down by {down} dB to match" if down != "0" else ""
    return [*found, f"{signed(one.loudness_lufs, digits=1)} LUFS by itself{turned}"]


# ---------------------------------------------------------------- what the script is told


def _told(page: Page) -> dict[str, Any]:
    parts = chain.from_iterable(song.parts for song in page.songs)
    return {"name": page.name, "token": page.token, "parts": [_part_told(one) for one in parts]}


def _part_told(part: PagePart) -> dict[str, Any]:
    return {
        "name": part.name,
        "rate": part.rate,
        "frames": part.frames,
        "first": FIRST_S * part.rate,
        "each": EACH_S * part.rate,
        "firstBar": part.first_bar,
        "bars": part.bars,
        "sounds": [
            {
                "key": one.key,
                "track": _track_told(one.track),
                "matched": ratio_from_db(one.match_db + part.cut_matched_db - one.file_db),
                "plain": ratio_from_db(part.cut_plain_db - one.file_db),
            }
            for one in part.sounds
        ],
        "backing": part.backing
        and {
            "track": _track_told(part.backing),
            "matched": ratio_from_db(part.cut_matched_db - part.backing_file_db),
            "plain": ratio_from_db(part.cut_plain_db - part.backing_file_db),
        },
    }


def _track_told(track: PageTrack) -> dict[str, Any]:
    return {
        "id": track.id,
        "at": track.at,
        "frames": track.frames,
        "from": track.first,
        "to": track.last,
    }


# ---------------------------------------------------------------- what every page has


def _help() -> str:
    keys = "".join(f"<dt><kbd>{key}</kbd></dt><dd>{does}</dd>" for key, does in _KEYS)
    return f"""<section aria-labelledby="help"><h2 id="help">Keys, and when it is silent</h2>
<dl class="keys">{keys}</dl>
<p class="soft small">A phone plays nothing while its silent switch is on. If a sound is missing, copy the
whole folder again, with everything in it. This page asks nothing of the network, and keeps what you
choose in this browser alone.</p></section>"""


def _stepper(which: str, word: str) -> str:
    return f"""<div class="steps"><label for="{which}">{word}</label>
<button type="button" id="{which}-less" aria-label="{word} one earlier">−</button>
<input type="number" id="{which}" step="1" inputmode="numeric" aria-describedby="loop-unit">
<button type="button" id="{which}-more" aria-label="{word} one later">+</button>
<button type="button" class="here" id="{which}-here">{word.lower()} here</button></div>"""


_PLAYER = f"""<section class="player needs-script" aria-label="Player">
<div class="bar"><button type="button" id="play"><span id="play-word">Play</span></button>
<div class="what"><p><bdi id="heard-part"></bdi>: <bdi id="heard-name"></bdi></p>
<p class="soft small" id="place"></p></div></div>
<details id="more"><summary>Place, loop, backing, loudness</summary>
<fieldset><legend>Place</legend>
<label class="unseen" for="seek">Place in the part</label>
<input type="range" id="seek" min="0" step="1" value="0">
<div class="buttons"><button type="button" id="start">to the loop’s start</button></div></fieldset>
<fieldset><legend>Loop: <span id="loop-words">the whole part</span></legend>
<p class="unseen" id="loop-unit">in <span class="unit">bar</span>s</p>
{_stepper("from", "From")}
{_stepper("to", "To")}
<div class="buttons"><button type="button" id="whole">whole part</button></div></fieldset>
<fieldset><legend>Backing track</legend>
<p id="no-backing" class="soft small" hidden>This song has none here.</p>
<div id="backing-row"><label class="check"><input type="checkbox" id="backing-on" checked>
<span>play it under the sounds, <span id="backing-words"></span></span></label>
<label class="unseen" for="backing-db">Level of the backing track</label>
<input type="range" id="backing-db" min="-40" max="0" step="1" value="{BACKING_DB:g}"></div></fieldset>
<fieldset><legend>Loudness</legend>
<label class="check"><input type="checkbox" id="matched" checked> matched: equally loud</label>
<p class="hint">Without it, every sound is as loud as it is.</p></fieldset>
</details></section>"""

_CHOICE = """<section class="needs-script" aria-labelledby="choice"><h2 id="choice">My choice</h2>
<p>Press “choose” beside the sounds you like, in the order you like them; press again to take one out.
Choose in as many parts as you want.</p>
<label class="field">My name<input type="text" id="by" maxlength="40" autocomplete="name"></label>
<p id="ask" class="hint"></p>
<label for="text" class="unseen">The text to send back</label>
<textarea id="text" readonly rows="8" spellcheck="false"></textarea>
<div class="buttons"><button type="button" id="copy" class="main-button">Copy the text</button></div>
<p id="copied" role="status"></p></section>"""
