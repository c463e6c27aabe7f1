"""News of an evening that never was, with names of anybody's choice: what a screen shows without any sound.

Figures are constants, so that a picture of them is the same on every machine.
"""

from __future__ import annotations

from dataclasses import dataclass

from msgspec.structs import replace

from audio.jobs import news
from audio.jobs.news import News
from audio.jobs.talk import Rolling
from audio.session.model import Original, Part, Revision, SessionFile, Song
from audio.session.records import Broken
from audio.vocab.delay import Delay, ReturnDelay
from audio.vocab.findings import Finding
from audio.vocab.layers import Layer
from audio.vocab.listening import BACKING, ListeningNow, Sound, Under
from audio.vocab.matching import SoundLevel
from audio.vocab.messages import Dropout, Opened, Span
from audio.vocab.results import AudioFacts, ClickReading
from audio.vocab.variant import ChainAsSet, DiUsed, Variant, VariantFile
from audio.vocab.wiring import PortAudioDevice, Return, Wiring

RATE = 48_000
DI_FRAMES = 20 * RATE
OPENED = Opened(
    sample_rate=RATE, block_frames=512, inputs=8, outputs=8, sample_format="int32", paced=True
)


@dataclass(frozen=True)
class Names:
    """What things are called."""

    session: str = "harbour lights"
    song: str = "last ferry"
    part: str = "rhythm-left"
    chain: str = "fuzz into delay"
    device: str = "desk 8x8"
    returns: tuple[str, str] = ("close", "room")
    original: str = "close"
    file: str = "di/rhythm-left.r1.wav"
    said: str = "close silent from 0:07: cable, fuse or standby."
    advice: str = "Check the cable from the reamp box to the first pedal, then play the pass again."


def all_called(name: str) -> Names:
    """Return names that are all the same; the two returns differ, as they must."""
    return Names(
        session=name,
        song=name,
        part=name,
        chain=name or "nothing",
        device=name,
        returns=(name, f"{name}2"),
        original=name,
        file=f"di/{name}.wav",
        said=name,
        advice=name,
    )


def wiring(names: Names) -> Wiring:
    close, far = names.returns
    return Wiring(
        name=names.session,
        device=PortAudioDevice(host="ALSA", name=names.device),
        sample_rate=RATE,
        send_output=3,
        returns=(Return(close, 2), Return(far, 3)),
        reference=close,
        listen_outputs=(1, 2),
    )


def reading(frames: float | None, *, reason: str | None = None) -> ClickReading:
    return ClickReading(
        delay_frames=frames,
        plus_minus_frames=None if frames is None else 0.03,
        peak_delay_frames=None if frames is None else frames + 1.5,
        peak_plus_minus_frames=None if frames is None else 0.01,
        snr_db=None if frames is None else 46.2,
        polarity="normal" if frames is not None else "unsure",
        noise_dbfs=-84.0,
        peak_dbfs=-38.0,
        reason=reason,  # type: ignore[arg-type]
    )


def variant(names: Names, number: int, *, redo: bool = False) -> Variant:
    said = Finding(
        code="silent-from", weight="redo", text=names.said, at_s=7.25, advice=names.advice
    )
    return Variant(
        number=number,
        part=names.part,
        revision=1,
        song=names.song,
        chain=ChainAsSet(name=names.chain),
        state="stopped" if redo else "kept",
        verdict="redo" if redo else "good",
        findings=(said,) if redo else (),
        made_at=f"2026-11-25T21:{number:02d}:00+01:00",
        sample_rate=RATE,
        di=DiUsed(
            path=names.file, channel=1, file_sha256="ab" * 32, frames=DI_FRAMES, peak_dbfs=-9.5
        ),
        trim_db=0.0,
        time_reference=0,
        align_to="di",
        delay_frames=702.37,
        plus_minus_frames=0.03,
        shift_frames=702,
        residual_frames=0.37,
        delay_source="opening click",
        chain_adds_frames=67.2,
        dropouts=(Dropout(at_frame=96_000, kind="overrun", frames=512),) if redo else (),
        clock_ppm=3.0,
        setup={},
        opening_click=(reading(702.37), reading(1004.12)),
        closing_click=() if redo else (reading(702.39), reading(1004.10)),
        files=tuple(_file(names, number, at) for at in range(2)),
    )


def _file(names: Names, number: int, at: int) -> VariantFile:
    return VariantFile(
        return_name=names.returns[at],
        input=2 + at,
        path=f"passes/{names.part}/{number:03d}/{names.part}_{number:03d}_{names.returns[at]}.wav",
        frames=DI_FRAMES,
        audio_sha256="cd" * 32,
        peak_dbfs=-11.8 - 5 * at,
        clipped_runs=0,
        loudness_lufs=-23.4 - 5 * at,
        polarity="normal",
        extra_delay_frames=None if at == 0 else 301.75,
        noise_dbfs=-84.0,
        hum_hz=50,
        hum_dbfs=-91.5,
    )


def session(names: Names, *variants: Variant) -> news.Snapshot:
    part = Part(
        name=names.part,
        revisions=(Revision(file=names.file, file_sha256="ab" * 32),),
        originals=(Original(name=names.original, file="originals/a.wav", file_sha256="ef" * 32),),
    )
    other = Part(name="hook", revisions=(Revision(file="di/hook.wav", file_sha256="ba" * 32),))
    song = Song(name=names.song, bpm=96.0, metre="4/4", song_start_s=0.25, parts=(part, other))
    return news.Snapshot(
        folder=f"/sessions/{names.session}",
        file=SessionFile(name=names.session, wiring="wiring.yaml", songs=(song,)),
        wiring=wiring(names),
        wiring_problem="",
        variants=variants,
        broken=(Broken(folder=names.part, reason=names.said),) if variants else (),
        playing=(),
    )


def read(variant: Variant, *, earlier: Variant | None = None) -> news.VariantRead:
    """Return what who looks at a variant is told."""
    return news.VariantRead(
        part=variant.part, number=variant.number, variant=variant, earlier=earlier
    )


def di(names: Names) -> news.DiRead:
    facts = AudioFacts(
        path=names.file,
        container="WAV",
        encoding="PCM_24",
        sample_rate=RATE,
        channels=1,
        frames=DI_FRAMES,
        time_reference=0,
        file_sha256="ab" * 32,
        channel=0,
        peak_dbfs=-9.5,
        loudest_dbfs=-18.0,
    )
    return news.DiRead(part=names.part, facts=facts)


def click(names: Names) -> news.ClickDone:
    frames = (702.37, None)
    returns = tuple(
        ReturnDelay(
            name=name,
            input=2 + at,
            delay_frames=frames[at],
            delay_ms=None if frames[at] is None else 14.63,
            plus_minus_frames=None if frames[at] is None else 0.03,
            spread_frames=None,
            snr_db=None if frames[at] is None else 46.2,
            polarity="normal" if frames[at] is not None else "unsure",
            noise_dbfs=-84.0,
            reason=None if frames[at] is not None else "nothing",
        )
        for at, name in enumerate(names.returns)
    )
    first = returns[0]
    silent = Finding(
        code="nothing",
        weight="look",
        text=f"Nothing came back on {names.returns[1]}.",
        advice=names.advice,
    )
    delay = Delay(
        reference=first.name,
        sample_rate=RATE,
        click_dbfs=-34.0,
        delay_frames=first.delay_frames,
        delay_ms=first.delay_ms,
        plus_minus_frames=first.plus_minus_frames,
        spread_frames=None,
        snr_db=first.snr_db,
        polarity=first.polarity,
        returns=returns,
        findings=(silent,),
    )
    return news.ClickDone(delay=delay)


def opened(names: Names) -> news.StreamOpened:
    return news.StreamOpened(wiring=wiring(names), opened=OPENED)


def rolls(names: Names) -> tuple[News, ...]:
    """Return the news of a pass that begins to roll."""
    roll = Rolling(
        wiring=wiring(names),
        what="pass",
        plays_until=DI_FRAMES + 12_000,
        length_frames=DI_FRAMES + RATE * 12,
        lead_in_frames=12_000,
        shift_frames=702,
    )
    claimed = news.Claimed(part=names.part, number=7, chain=names.chain)
    return claimed, news.Said(text=names.said), news.RollBegins(roll=roll)


def sounds(names: Names) -> ListeningNow:
    """Return what there is to listen to: two variants, an original, the DI, and a backing track."""
    layers = {
        key: tuple(
            Layer(name=name, path=f"/evening/{key}-{name}.wav", channel=0, at_frame=0)
            for name in mics
        )
        for key, mics in {
            "002": names.returns,
            "001": names.returns,
            f"original:{names.original}": ("original",),
            "di": ("di",),
            BACKING: (BACKING,),
        }.items()
    }
    titles = (names.chain, names.chain, f"original, {names.original}", "DI, as it was edited")
    loud = (-23.4, -27.5, -25.0, -14.25)
    made = tuple(
        Sound(
            key=key,
            title=title,
            number=int(key) if key.isdigit() else None,
            layers=layers[key],
            outside="bars 5-8" if key == "002" else "",
        )
        for key, title in zip(layers, titles, strict=False)
    )
    return ListeningNow(
        part=names.part,
        sample_rate=RATE,
        sounds=made,
        heard="002",
        before="002",
        under=(Under(name=BACKING, layers=layers[BACKING], db=-6.0),),
        whole=DI_FRAMES,
        span=Span(start=0, end=DI_FRAMES),
        levels=tuple(
            (one.key, SoundLevel(loudness_lufs=lufs, peak_dbtp=-6.0, match_db=min(loud) - lufs))
            for one, lufs in zip(made, loud, strict=True)
        ),
        cut_matched_db=-0.5,
        cut_plain_db=-4.0,
    )


def listened(names: Names) -> tuple[News, ...]:
    """Return the news of sounds that begin to roll, and are matched in loudness."""
    roll = Rolling(
        wiring=wiring(names),
        what="flip",
        plays_until=24 * 3600 * RATE,
        length_frames=24 * 3600 * RATE,
        cue_outputs=(1, 2),
    )
    stands = news.ListeningStands(now=replace(sounds(names), measured=True))
    return stands, news.RollBegins(roll=roll)


def evening(names: Names, *variants: Variant) -> tuple[News, ...]:
    """Return the news of a session that is opened, its stream running."""
    return (
        session(names, *variants),
        news.Ready(),
        news.Disk(free_bytes=83 * 10**9),
        di(names),
        opened(names),
    )
