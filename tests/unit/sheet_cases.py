"""A recall sheet with something in every field, and readers of the page it becomes."""

from __future__ import annotations

from html.parser import HTMLParser
from typing import Any

import msgspec
from unit.session_cases import NOON, READING, WIRING, variant

from audio.measure.thirds import NOMINAL_HZ
from audio.vocab.alignment import Alignment
from audio.vocab.balance import Balance, Fader
from audio.vocab.chain import AmpAsSet, Chain, MicAsSet, Pedal
from audio.vocab.choice import Choice
from audio.vocab.findings import Finding
from audio.vocab.levels import SoundLevels, ThirdLevel
from audio.vocab.opinion import Keeper, Opinion
from audio.vocab.results import Echo
from audio.vocab.session_file import Recorded
from audio.vocab.setup import Outcome, Row, SetupRecord, SilenceResult
from audio.vocab.sheet import (
    FileTold,
    OriginalTold,
    PhotoLine,
    PhotoShown,
    ReferencePhrase,
    Sheet,
    SheetPart,
    SheetSound,
    SoundTold,
)
from audio.vocab.variant import ChainAsSet, DiUsed, VariantFile
from audio.vocab.wiring import PortAudioDevice, Return, Wiring

SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"></svg>'


def levels(rms_dbfs: float = -20.0) -> SoundLevels:
    return SoundLevels(
        frames=1000,
        peak_dbfs=rms_dbfs + 12.0,
        true_peak_dbtp=rms_dbfs + 12.5,
        rms_dbfs=rms_dbfs,
        rms_aes17_dbfs=rms_dbfs + 3.01,
        a_dbfs=rms_dbfs - 1.0,
        loudness_lufs=rms_dbfs + 0.4,
        speakers=1,
        thirds=tuple(ThirdLevel(hz=hz, dbfs=rms_dbfs - 10.0) for hz in NOMINAL_HZ),
        clipped_runs=0,
        first_clipped=(),
    )


def file_told(name: str, rms_dbfs: float = -20.0, *, wave: str = SVG) -> FileTold:
    return FileTold(
        name=name,
        levels=levels(rms_dbfs),
        noise_dbfs=-80.1,
        hum_hz=50,
        hum_dbfs=-90.2,
        wave=wave,
    )


def microphone(name: str, number: int, **more: Any) -> VariantFile:
    known: dict[str, Any] = {
        "return_name": name,
        "input": number,
        "path": f"passes/rhythm-left/001/{name}.wav",
        "frames": 1000,
        "audio_sha256": "ab" * 32,
        "peak_dbfs": -11.9,
        "clipped_runs": 0,
        "loudness_lufs": -24.6,
        "polarity": "normal",
        "extra_delay_frames": 0.0,
        "extra_delay_ms": 0.0,
        "extra_air_cm": 0.0,
        "noise_dbfs": -85.0,
        "hum_hz": 50,
        "hum_dbfs": -92.0,
    }
    return VariantFile(**(known | more))


def everything(words: Any = str) -> Sheet:
    """Return a sheet; `words` makes the text of each field from its name."""
    close, room = words("close"), words("room")
    wiring = msgspec.structs.replace(
        WIRING,
        name=words("wiring"),
        device=PortAudioDevice(host=words("host"), name=words("device")),
        returns=(
            Return(name=close, input=2, amp=words("left")),
            Return(name=room, input=3, amp=words("left")),
        ),
        reference=close,
        witness_input=5,
        send_full_scale_dbu=18.0,
    )
    return Sheet(
        session=words("session"),
        name=words("handover"),
        made_at=NOON,
        parts=(_part(words, wiring),),
        left_out=(words("left out"),),
    )


def _part(words: Any, wiring: Wiring) -> SheetPart:
    return SheetPart(
        song=words("song"),
        tempo=words("tempo"),
        part=words("part"),
        originals=(
            OriginalTold(
                part=words("part"),
                name=words("original"),
                offset_frames=134.4,
                plus_minus_frames=0.5,
                offset_ms=2.8,
                revision=1,
                at_frame=-134,
                polarity="normal",
                match_db=-1.5,
                text=words("2.8 ms later than its DI"),
            ),
        ),
        sounds=(_sound(words, wiring),),
    )


def _sound(words: Any, wiring: Wiring) -> SheetSound:
    close, room = (one.name for one in wiring.returns)
    recorded = msgspec.structs.replace(
        variant(3, part=words("part")),
        chain=ChainAsSet(name=words("chain as recorded")),
        findings=(
            Finding(code="hum", weight="look", text=words("finding"), advice=words("advice")),
        ),
        verdict="look",
        di=DiUsed(path=words("di"), channel=1, file_sha256="", frames=1000, peak_dbfs=-3.0),
        files=(
            microphone(close, 2, amp=words("left")),
            microphone(room, 3, extra_delay_ms=6.13, extra_air_cm=210.6, clipped_runs=2),
        ),
        opening_click=(READING, READING),
        echo=Echo(repeat_ms=416.9, plus_minus_ms=0.2, level_db=-9.0),
        chain_adds_frames=67.2,
        delay_source=words("source"),
        align_to=words("align"),
        music=Alignment(delay_frames=None, reason=words("music")),
        setup={},
    )
    return SheetSound(
        variant=recorded,
        opinion=_opinion(words, close, room),
        chain=_chain(words, close, room),
        chain_name=words("corrected chain"),
        wiring=wiring,
        recorded=Recorded(
            input=1, box=words("box"), pad_db=-20.0, gain=words("gain"), full_scale_dbu=18.0
        ),
        bpm=108.0,
        setup=(_record(words, wiring),),
        unset=(words("unset"),),
        phrase=ReferencePhrase(
            from_frame=480,
            frames=480,
            bars=words("bars"),
            sound=words("kept sound"),
            floors=(words("floor"),),
        ),
        told=SoundTold(
            di=file_told("DI", -30.0, wave=""),
            files=(file_told(close, -20.0), file_told(room, -24.0)),
            originals=(file_told(words("original"), -22.0, wave=""),),
            thirds=SVG,
        ),
        photos=(
            PhotoLine(
                name=words("photo"), shown=PhotoShown(jpeg=b"\xff\xd8\xff", width=4, height=3)
            ),
            PhotoLine(name=words("lost photo"), problem=words("problem")),
        ),
        newest_revision=1,
    )


def _opinion(words: Any, close: str, room: str) -> Opinion:
    balance = Balance(faders=(Fader(name=close, db=0.0), Fader(name=room, db=-6.5)))
    return Opinion(
        part=words("part"),
        number=3,
        rating=4,
        words=(words("remark"),),
        called=words("called"),
        chain=words("corrected chain"),
        keeper=Keeper(reason=words("reason"), balance=balance),
        choices=(
            Choice(
                listener=words("listener"),
                place=1,
                blind=True,
                words=words("more bite"),
                handover="harbour-lights-001",
                token="",
            ),
        ),
    )


def _chain(words: Any, close: str, room: str) -> Chain:
    drive = Pedal(
        name=words("drive"), knobs={words("knob"): words("2:30")}, note=words("pedal note")
    )
    delay = Pedal(name=words("delay"), knobs={words("time"): words("417 ms")}, moves=True)
    first = AmpAsSet(
        name=words("left"),
        input=words("bright"),
        knobs={words("treble"): words("5.5")},
        loop=(delay,),
        speaker=words("2x12"),
        tap=words("8 ohm"),
        note=words("amp note"),
    )
    mics = (
        MicAsSet(
            return_name=close,
            mic=words("dynamic"),
            place=words("edge of the cone"),
            preamp=words("channel 1"),
            gain=words("11:00"),
            pad=words("-10 dB"),
            filters=words("80 Hz"),
            outboard=words("compressor"),
        ),
        MicAsSet(return_name=room),
    )
    return Chain(
        name=words("corrected chain"),
        pedals=(drive,),
        amps=(first, AmpAsSet(name=words("right"))),
        mics=mics,
        note=words("chain note"),
    )


def _record(words: Any, wiring: Wiring) -> SetupRecord:
    row = Row(
        name=words("row"), value=-81.5, unit="dBFS", low=-90.0, high=-70.0, word=words("word")
    )
    return SetupRecord(
        number=4,
        step="silence",
        made_at=NOON,
        wiring=wiring,
        verdict="good",
        outcome=Outcome(
            result=SilenceResult(patch="plugged", seconds=4.0, returns=()),
            rows=(row,),
            findings=(),
            headline=words("headline"),
            summary=words("summary"),
        ),
    )


class Page(HTMLParser):
    """What a page holds, as a browser would take it apart.

    Parameters
    ----------
    text
        The page.
    """

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.style = ""
        self._text: list[str] = []
        self.feed(text)
        self.close()
        self.text = " ".join("".join(self._text).split())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in ("meta", "img"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] == "style":
            self.style += data
        else:
            self._text.append(data)
