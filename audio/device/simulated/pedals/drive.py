"""Pedals that shape tone or level at once: drive, tone control, wah, buffer, volume, tuner."""

from __future__ import annotations

from audio.device.simulated.amp import COUPLING_HZ, Saturation, Tone
from audio.device.simulated.filters import Band, Coupling, Pole, Signal, pole_at
from audio.device.simulated.pedals.pedal import Pedal
from audio.vocab.units import ratio_from_db
from audio.vocab.wiring import Bell

_LATENCY = 16
"""Frames of oversampling: shorter than the amp's, as the tone control hides the top octave anyway."""


class Drive(Pedal):
    """A saturation with a treble cut behind it."""

    latency = _LATENCY

    def __init__(
        self, *, rate: int, drive_db: float, tone_hz: float, level_db: float, asymmetry: float
    ) -> None:
        self._saturation = Saturation(
            rate=rate, drive_db=drive_db, asymmetry=asymmetry, latency=_LATENCY
        )
        self._coupling = Coupling(hz=COUPLING_HZ, rate=rate)
        tone = pole_at(tone_hz, rate=rate)
        self._tone = Pole(tone)
        self._gain = (1.0 - tone) * ratio_from_db(level_db)

    def process(self, signal: Signal) -> Signal:
        """Return the driven signal: treble cut, direct current taken off."""
        hot = self._saturation.process(signal)
        hot *= self._gain
        return self._coupling.process(self._tone.process(hot))


class ToneControl(Pedal):
    """One bell-shaped lift or dip, as behind the amp; see `Tone`."""

    def __init__(self, *, rate: int, hz: float, db: float, q: float) -> None:
        self._tone = Tone(Bell(hz=hz, db=db, q=q), rate=rate)

    def process(self, signal: Signal) -> Signal:
        """Return the signal with the bell in it."""
        return self._tone.process(signal)


class Wah(Pedal):
    """A wah left standing: a resonant band, which leaves no polarity to know."""

    inverts = None

    def __init__(self, *, rate: int, hz: float, q: float) -> None:
        """Tune the band; its gain at the middle is Q."""
        self._band = Band(hz=hz, q=q, gain=q, rate=rate)

    def process(self, signal: Signal) -> Signal:
        """Return the band about the wah's frequency."""
        return self._band.process(signal)


class Buffer(Pedal):
    """A buffer that turns the polarity."""

    inverts = True

    def process(self, signal: Signal) -> Signal:
        """Return the signal upside down."""
        return -signal


class Volume(Pedal):
    """A volume pedal; left down it gives nothing."""

    def __init__(self, *, open: float) -> None:  # noqa: A002 - the word on the pedal
        self._gain = open
        self.mutes = open == 0.0

    def process(self, signal: Signal) -> Signal:
        """Return the signal times how far the pedal is open."""
        return signal * self._gain
