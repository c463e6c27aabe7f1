"""What the screen knows: news folded into one picture. No widgets, no clock, no threads."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal, assert_never

from msgspec.structs import replace

from audio.jobs import news
from audio.jobs.news import News, Snapshot
from audio.jobs.planning import answers_of
from audio.jobs.sections import covered
from audio.jobs.talk import Rolling, RollKind
from audio.jobs.tempos import told_tempo
from audio.plan.lines import Answer
from audio.plan.path import Stage, hindrance, stages
from audio.plan.setup import StepStatus, statuses
from audio.vocab.chain import Chain
from audio.vocab.delay import Delay
from audio.vocab.devices import DeviceList
from audio.vocab.errors import UseError
from audio.vocab.handover import HandoverAsked
from audio.vocab.layers import DI, SoundName, original_key, variant_key
from audio.vocab.listening import ListeningNow
from audio.vocab.messages import Counters, Opened
from audio.vocab.names import BARE_PATH, twin_key
from audio.vocab.plan import PlanNow, RunNow
from audio.vocab.results import AudioFacts
from audio.vocab.section import Section
from audio.vocab.session_file import Part, Song
from audio.vocab.setup import Live, SetupRecord
from audio.vocab.status import Status
from audio.vocab.step_names import StepName
from audio.vocab.tempo import SongTempo
from audio.vocab.variant import Summary, Variant
from audio.vocab.wiring import SimulatedDevice, Wiring
from tui.checks import Checks
from tui.notes import Notes
from tui.path_facts import path_facts, stream_state

Word = Literal[
    "opening",
    "no stream",
    "ready",
    "countdown",
    "test click",
    "setting up",
    "listening",
    "comparing",
    "measuring",
    "rolling",
    "tail",
    "closing click",
    "judging",
    "handing over",
    "stopping",
]
"""One word for what happens now."""

Outcome = Literal["verdict", "stopped", "failed"]
"""A variant was left; it was stopped before the DI rolled; it could not be done."""

Doing = Literal["stream", "click", "step", "pass", "wiring", "session", "run", "sounds", "handover"]
"""What an order is about."""

Sound = Literal["nothing sounds", "about to send", "SENDING", "listening", "send silent"]
"""What leaves the send now; ``listening`` plays nothing and waits for the returns to be quiet, ``send
silent`` plays to people only."""


@dataclass(slots=True)
class Trouble:
    """Something that went wrong; it stays until it was read."""

    text: str


@dataclass(slots=True)
class Model:
    """The picture; `take` is the only way in for news."""

    snapshot: Snapshot | None = None
    ready: bool = False
    part: str | None = None
    """Name of the part that is played next."""
    chain: str = ""
    """What is plugged in, as the engineer says."""
    asked_section: tuple[str, Section] | None = None
    """Part and stretch of it that is played next; another part is played whole."""
    named: list[str] = field(default_factory=list)
    """Chains that were typed in this sitting."""
    dis: dict[str, news.DiRead] = field(default_factory=dict)
    checks: Checks = field(default_factory=Checks)
    """Whether they are ready to be sent."""
    evidence: news.VariantRead | None = None
    """The variant that was last looked at closely."""
    apart: news.SoundsCompared | None = None
    """The two sounds that were last compared."""
    handover: HandoverAsked = field(default_factory=HandoverAsked)
    """What would be handed over, as told in this sitting."""
    handover_to: str = ""
    """The folder; empty for one of the session's own."""
    handing: news.HandingOver | news.HandOverDone | None = None
    """How far the newest hand-over of this sitting is, or what became of it."""
    opened: Opened | None = None
    stream_wiring: Wiring | None = None
    stream_lost: str = ""
    delay: Delay | None = None
    delay_is_old: bool = False
    live: Live | None = None
    """What the step of the set-up under way shows; that of the last one afterwards."""
    record: SetupRecord | None = None
    """What the last step of this sitting left."""
    listening: ListeningNow | None = None
    """What is listened to, or would be."""
    blind: news.BlindStands | None = None
    """The blind sitting that goes on, or the last one of this evening."""
    no_sounds: str = ""
    """Why there is nothing to listen to; one sentence."""
    told: dict[tuple[StepName, str], str] = field(default_factory=dict)
    """What the steps were told in this sitting, by step and option."""
    doing: Doing | None = None
    """What was ordered and is under way."""
    stopping: bool = False
    claimed: news.Claimed | None = None
    roll: Rolling | None = None
    rolled: bool = False
    """The DI of the pass under way has rolled."""
    countdown_s: int | None = None
    card_shown: bool = False
    """The card of a run is shown, and go is meant for it."""
    repeat_redo: bool | None = None
    """Whether a pass to be done again is repeated once, as said here; None while nobody said so."""
    outcome: Outcome | None = None
    """How the newest pass of this sitting went; None while none has ended."""
    done: news.PassDone | None = None
    """The newest pass of this sitting."""
    troubles: list[Trouble] = field(default_factory=list)
    said: str = ""
    free_bytes: int | None = None
    devices: DeviceList | None = None
    counters: Counters | None = None
    lost: int = 0
    """Dropouts of the pass under way."""
    notes: Notes = field(default_factory=Notes)
    """The snapshot's variants, the newest first, and what was said of them."""
    _played: tuple[str, ...] = ()
    """The snapshot's chains."""

    # ------------------------------------------------------------ news

    def take(self, one: News) -> None:  # noqa: C901, PLR0912, PLR0915 - one match over every kind of news
        """Fold one piece of news in."""
        match one:
            case news.Snapshot():
                self._take_snapshot(one)
            case news.Ready():
                self.ready = True
            case news.Idle():
                self._idle()
            case news.Said():
                self.said = one.text
            case news.Mended():
                self.said = one.text
            case news.StreamOpened():
                self.opened, self.stream_wiring, self.stream_lost = one.opened, one.wiring, ""
                self.delay_is_old = True
            case news.StreamClosed():
                self._close_stream(one.reason)
            case news.Claimed():
                self.claimed, self.rolled, self.lost = one, False, 0
            case news.RollBegins():
                self.roll = one.roll
                self.rolled = self.rolled or one.roll.what == "pass"
            case news.RollEnds():
                self.roll = None
            case news.ClickDone():
                self.delay, self.delay_is_old = one.delay, False
            case news.Measuring():
                self.live = one.live
            case news.StepDone():
                self.record = one.record
            case news.ListeningStands():
                self.listening = one.now
            case news.BlindStands():
                self.blind = one
            case news.SoundsRead():
                self._take_sounds(one)
            case news.RunStands():
                if self.snapshot is not None:
                    self.snapshot = replace(self.snapshot, plan=one.plan, run=one.run)
            case news.PassDone():
                self.done, self.outcome = one, "verdict"
            case news.HandingOver() | news.HandOverDone():
                self.handing = one
            case news.Stopped():
                self._stopped()
            case news.Trouble():
                self.troubles.append(Trouble(one.text))
            case news.Disk():
                self.free_bytes = one.free_bytes
            case news.Counted():
                self.counters = one.counters
            case news.Devices():
                self.devices = one.devices
            case news.DiRead():
                self.dis[one.part] = one
            case news.DiChecked() | news.HitsCompared():
                self.checks.take(one)
            case news.VariantRead():
                self.evidence = one
            case news.SoundsCompared():
                self.apart = one
            case news.HistoryRead():
                self.notes.history = one
            case news.Outlined() | news.Closeup():
                pass  # the waveform's own
            case _:
                assert_never(one)

    def _idle(self) -> None:
        if self.doing == "pass" and self.outcome is None:
            self.outcome = "failed"
        self.stopping = self.rolled = False
        self.claimed = self.doing = None

    def _stopped(self) -> None:
        self.said = "stopped; nothing was recorded"
        if self.doing == "pass":
            self.outcome = "stopped"

    def _take_sounds(self, one: news.SoundsRead) -> None:
        if self.doing != "sounds":  # what rolls knows more
            self.listening, self.no_sounds = one.now, one.problem
            self.said = "; ".join(one.said) or self.said

    def _take_snapshot(self, one: Snapshot) -> None:
        self.snapshot = one
        self.notes.take(one)
        self._played = tuple(dict.fromkeys(map(self.notes.chain_of, one.variants)))
        names = [part.name for _, part in self.parts()]
        if self.part not in names:
            newest = max(one.variants, key=lambda variant: variant.made_at, default=None)
            last = newest.part if newest is not None else None
            self.part = last if last in names else names[0] if names else None

    def _close_stream(self, reason: str) -> None:
        self.opened = self.stream_wiring = self.roll = None
        self.delay_is_old = True
        self.stream_lost = reason
        if reason:
            self.troubles.append(Trouble(reason))

    def see(self, status: Status | None) -> None:
        """Take note of what the engine shows; once the roll is over, its dropouts stay."""
        if status is None or status.roll_id < 0:
            return
        if self.roll is not None and self.roll.what == "pass":
            self.lost = status.dropouts

    # ------------------------------------------------------------ what follows from it

    @property
    def playing(self) -> tuple[news.Playing, ...]:
        """Passes that were left running and still play."""
        return self.snapshot.playing if self.snapshot else ()

    @property
    def busy(self) -> bool:
        """Whether an order is under way."""
        return self.doing is not None

    def parts(self) -> list[tuple[Song, Part]]:
        """Return every part with its song, in the session's order."""
        songs = self.snapshot.file.songs if self.snapshot else ()
        return [(song, part) for song in songs for part in song.parts]

    def chosen(self) -> tuple[Song, Part] | None:
        """Return the part that is played next, and its song."""
        return next((pair for pair in self.parts() if pair[1].name == self.part), None)

    def tempo(self, song: Song) -> SongTempo:
        """Return what is known of a song's tempo."""
        return told_tempo(song, self.snapshot.tempos if self.snapshot else ())

    def facts(self) -> AudioFacts | None:
        """Return what the chosen part's DI is, once it was read."""
        read = self.dis.get(self.part or "")
        return read.facts if read else None

    def variants(self) -> tuple[Summary, ...]:
        """Return the chosen part's variants, the newest first; those that were discarded are none."""
        return self.variants_of(self.part or "")

    def variants_of(self, part: str) -> tuple[Summary, ...]:
        """Return a part's variants, the newest first; those that were discarded are none."""
        return self.notes.kept(part)

    def listed(self) -> tuple[Summary, ...]:
        """Return the chosen part's variants as the list shows them: with those discarded, if asked for."""
        return self.notes.listed(self.part or "")

    def sounds(self, part: str) -> tuple[SoundName, ...]:
        """Return a part's sounds: variants that were not discarded, the newest first, originals, the DI."""
        variants = (variant_key(one.number) for one in self.variants_of(part))
        originals = (
            original_key(one.name)
            for _, of in self.parts()
            if of.name == part
            for one in of.originals
        )
        return (*variants, *originals, DI)

    def judged(self) -> Variant | None:
        """Return what the newest pass of this sitting left, None where that is nothing or none ended."""
        return self.done.variant if self.done is not None and self.outcome == "verdict" else None

    def chains(self) -> list[str]:
        """Return the chains to choose from: the bare path, typed, of files, used, of a simulated room."""
        wiring = self.snapshot.wiring if self.snapshot else None
        names = [BARE_PATH, *reversed(self.named)]
        names += [one.chain.name for one in self.snapshot.chains] if self.snapshot else []
        names += self._played
        if wiring is not None and isinstance(wiring.device, SimulatedDevice):
            names += list(wiring.device.chains)
        return list(dict.fromkeys(names))

    def plan(self) -> PlanNow:
        """Return the plan as it stands."""
        return self.snapshot.plan if self.snapshot else PlanNow()

    def run(self) -> RunNow:
        """Return the run as it stands."""
        return self.snapshot.run if self.snapshot else RunNow()

    def repeats(self) -> bool:
        """Return whether a run repeats a pass to be done again once, from the next time it goes on."""
        return self.run().repeat_redo if self.repeat_redo is None else self.repeat_redo

    def answers(self) -> list[Answer]:
        """Return all variants, as far as they answer lines of the plan."""
        return answers_of(self.snapshot.variants, self.snapshot.opinions) if self.snapshot else []

    def chain_files(self) -> dict[str, Chain]:
        """Return the chains that have a file, by name."""
        files = self.snapshot.chains if self.snapshot else ()
        return {one.chain.name: one.chain for one in files}

    def chain_as_set(self) -> Chain | None:
        """Return the chosen chain as its file has it; None where it has none."""
        return self.chain_files().get(self.chain)

    def section(self) -> Section | None:
        """Return the stretch of the chosen part that is played next; None where it is the whole."""
        asked = self.asked_section
        return asked[1] if asked is not None and asked[0] == self.part else None

    def no_section(self, section: Section, *parts: str) -> str | None:
        """Return where a section does not lie in a part's DI; None where it does, or no DI was read yet."""
        for song, part in self.parts():
            read = self.dis.get(part.name)
            facts = read.facts if read and part.name in parts else None
            if facts is None:
                continue
            try:
                covered(
                    section, song, tempo=self.tempo(song), time_reference=facts.time_reference,
                    frames=facts.frames, rate=facts.sample_rate,
                )  # fmt: skip
            except UseError as error:
                return f"{part.name}: {error}"
        return None

    def take_section(self, section: Section | None) -> None:
        """Take the stretch of the chosen part that is played next; None for the whole."""
        self.asked_section = (self.part, section) if self.part and section else None

    def take_chain(self, name: str) -> None:
        """Take a chain that was typed: the one that is there already where only capitals differ."""
        there = {twin_key(one): one for one in self.chains()}
        self.chain = there.get(twin_key(name), name)
        self.named.append(self.chain)

    def wiring(self) -> Wiring | None:
        """Return the session's wiring."""
        return self.snapshot.wiring if self.snapshot else None

    def standing(self) -> tuple[StepStatus, ...]:
        """Return the steps of the set-up as they stand."""
        snapshot, chosen = self.snapshot, self.chosen()
        return statuses(
            snapshot.setups if snapshot else (),
            wiring=self.wiring(),
            part=chosen[1] if chosen else None,
            now=datetime.now().astimezone(),
        )

    def path(self) -> tuple[Stage, ...]:
        """Return the stages of the path as they stand."""
        return stages(path_facts(self))

    def hindrance(self) -> Stage | None:
        """Return what keeps a pass from starting."""
        return hindrance(self.path())

    # ------------------------------------------------------------ now

    def word(self, status: Status | None) -> Word:
        """Return the one word for what happens now."""
        if not self.ready:
            return "opening"
        if self.countdown_s is not None:
            return "countdown"
        if self.stopping:
            return "stopping"
        return self._rolling_word(self.roll, status) if self.roll else self._quiet_word()

    def _quiet_word(self) -> Word:
        if self.doing in ("pass", "click", "step"):
            return "judging" if self.rolled else "measuring"
        if self.doing == "handover":
            return "handing over"
        if self.doing is not None:
            return "opening"
        return "ready" if stream_state(self) == "open" else "no stream"

    def _rolling_word(self, roll: Rolling, status: Status | None) -> Word:
        if roll.what == "pass":
            tail = status is not None and status.roll_frame > roll.plays_until
            return "tail" if tail else "rolling"
        if self.rolled:
            return "closing click"
        words: dict[RollKind, Word] = {
            "click": "test click",
            "set": "setting up",
            "flip": "comparing",
        }
        return words.get(roll.what, "listening")

    def sound(self, status: Status | None) -> Sound:
        """Return whether anything is sent, by the roll that was begun, never by what was asked."""
        if self.playing:
            return "SENDING"
        if self.roll is not None and self.roll.what == "flip":
            return "send silent"
        if self.roll is not None:
            tail = status is not None and status.roll_frame > self.roll.plays_until
            return "listening" if self.roll.what == "listen" or tail else "SENDING"
        sending = self.doing in ("pass", "click", "step") and not self.stopping
        return "about to send" if sending and self._quiet_word() != "judging" else "nothing sounds"

    def left_s(self, status: Status | None) -> float | None:
        """Return how long the DI still plays, or how long the tail has rung (negative); None if neither."""
        roll = self.roll
        if roll is None or roll.what != "pass" or status is None:
            return None
        at = max(status.roll_frame, 0)
        rate = roll.wiring.sample_rate
        if at <= roll.plays_until:
            return (roll.plays_until - max(at, roll.lead_in_frames)) / rate
        return (roll.plays_until - at) / rate
