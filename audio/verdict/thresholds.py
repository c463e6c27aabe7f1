"""Every threshold of the verdicts, with its reason; nothing here was fitted to the data it judges."""

from __future__ import annotations

from typing import Final

# ------------------------------------------------------------------ the test click

SNR_GOAL_DB: Final = 40.0
"""A click this far over the noise ends the raising. The Cramér–Rao bound (Kay 1993, chapter 3) lies at
some hundredths of a frame there, far under the half frame that decides where a file is placed; more
level would only drive the amp harder."""

CLICK_HEADROOM_DB: Final = 7.0
"""A return whose click peaks closer to full scale than this is not asked for one step more. A step is
6 dB, and 1 dB is left for the spread of single clicks; common practice, no source."""

LEAST_GAIN_DB: Final = 1.0
"""A louder click that gains less signal-to-noise than this gained nothing: a compressor or a saturated
amp holds it. The clicks' own scatter at 20 dB is below half of it; common practice, no source."""

SPREAD_MOVING_FRAMES: Final = 0.5
"""Single clicks that scatter by more than this come through something that moves. Half a frame is what
could place a file one frame aside; noise alone scatters less at 20 dB and more."""

FEEDBACK_MATCH_MS: Final = 0.25
"""A repeat this close to the round trip is the return fed back to the send. Room for the filter delay
of one more converter passage would be 1 ms, but an echo may be set anywhere: the narrow window makes
taking one for feedback unlikely. Common practice, no source."""

CHAIN_REMOVED_MS: Final = 10.0
"""A constant delay of a chain up to this is removed from the placement; more is music. Digital pedals
convert within a few milliseconds, echoes begin at some tens; common practice, no source."""

CHAIN_TOLD_MS: Final = 0.1
"""A chain that adds less is not worth a line: filters in analogue pedals move the click by as much."""

REFERENCE_LATE_MS: Final = 0.5
"""Another return that hears the click earlier than the reference by this is worth a look: 17 cm of air,
more than two close microphones differ; common practice, no source."""

# ------------------------------------------------------------------ what came back

LOUD_WITHIN_DB: Final = 20.0
"""Only stretches of the DI within this of its loudest 50 ms must be answered. Quieter playing may end
in a gate or under the noise of a healthy amp; common practice, no source."""

ANSWER_OVER_NOISE_DB: Final = 3.0
"""A return answers when it leaves its idle noise by this: sound as strong as the noise itself adds 3 dB
(powers add)."""

UNANSWERED_S: Final = 1.0
"""So much loud playing in a row without one answer is a fault. A slow tremolo or a gate leaves gaps of
some tenths of a second, a stop of the band is no loud playing; common practice, no source."""

DI_SILENT_DBFS: Final = -80.0
"""A DI whose loudest 50 ms stay under this holds no playing: the noise floor of a passive pickup into
a DI box is already above it; common practice, no source."""

FELL_DB: Final = 40.0
"""Nor does it answer loud playing with this much less than it usually does, be that over the noise: hum
through an open cable, or the send leaking past a dead amp. Loud playing spans 20 dB (`LOUD_WITHIN_DB`),
and 20 dB are left for what an expanding chain makes of that; common practice, no source."""

LEAK_SHARE: Final = 0.9
"""A return of which one plain copy of the DI explains this much holds no loudspeaker. One that bends the
spectrum by 5 dB either way, octaves alike, leaves a copy (mean gain)² over mean gain², 0.86, its phases not
yet counted; real ones bend more, and drive takes the rest. A leak clear of the noise leaves more."""

LEAK_GAIN_DB: Final = -30.0
"""A plain copy fainter than this came by no cable: a wired return (a loopback, a line out) lies within
pads of 20 dB of what was sent, crosstalk in interfaces and looms at −40 dB and less; common practice, no
source. Whatever is louder is left alone: somebody wired it so."""

# ------------------------------------------------------------------ noise, hum, level

NOISE_UP_DB: Final = 6.0
"""Noise or hum this much over what it was has come up: twice the amplitude. An idle amp wanders by 1 to
3 dB as it warms up; common practice, no source."""

NOISE_TOLD_DBFS: Final = -100.0
"""Under this nobody hears it come up: 24-bit converters themselves lie at −105 to −120; common practice,
no source."""

DI_RESTS_DBFS: Final = -120.0
"""A DI below this between its notes was cut to digital silence: then whatever sounds in the rests is the
chain's own noise. Otherwise a fuzz brings up the DI's hiss, which is no fault."""

RESTS_WITHIN_DB: Final = 50.0
"""Windows of the DI so far under its loudest are its rests; common practice, no source."""

GAIN_WITHIN_DB: Final = 2.0
"""Noise that came up by as much as the playing, to within this, came up with a gain behind it: the level
tells it already. The playing's loudness repeats within one or two dB; common practice, no source."""

TAIL_FALLS_DB: Final = 1.0
"""What falls by this from one second to the next at the end rings out; noise and hum stand still. A reverb
of 20 s falls by 3 dB a second, an echo of 450 ms at 95 % by 1 dB."""

STANDS_DB: Final = 0.3
"""What falls by less within its last second, half by half, stands still: a tail has ended in noise. Half a
second of noise varies by a tenth of a dB, the slowest echo above falls by half a dB."""

LEVEL_OFF_DB: Final = 2.5
"""Variants of one DI through one chain at one trim repeat within some tenths of a dB, through a tremolo
that runs freely within one or two; twice the power, 3 dB, is a knob, a tube or a microphone that moved,
and half a dB of that is left to the modulation. Common practice, no source."""

SEND_MOVED_DB: Final = 0.3
"""A witness that hears the send otherwise by this is worth a look: a cable gives one gain to some
hundredths of a dB, so only a knob or a contact moves it so far; 0.3 dB are a touch of a pot (common
practice, no source)."""

# ------------------------------------------------------------------ clipping

CLIPS_FEW: Final = 3
"""This many clipped runs are a few in a pass of any length; common practice, no source."""

CLIPS_FEW_PER_MINUTE: Final = 6.0
"""The same for long passes: one every ten seconds can still be mended by hand; common practice, no
source."""

CLIP_SHORT_MS: Final = 0.3
"""A clipped run up to this long is short: less than half a period of the highest fundamental of a
guitar (24th fret, about 1.3 kHz, half a period 0.38 ms), so the wave's shape around it remains."""

SEND_CLIPS_FEW: Final = 100
"""Frames of the DI cut on their way out that are worth a look only: about 2 ms in all at 48 kHz. More
is another sound than the one that was edited; common practice, no source."""

# ------------------------------------------------------------------ frames and clock

CLOCK_OFF_PPM: Final = 500.0
"""A rate further from the system's clock is a wrong clock source. Converters and computers keep within
100 ppm (usual crystal tolerance; common practice, no source); wrong sources are off by 0.1 % (pull-up
and pull-down, 1000 ppm) and more."""

DROPOUT_LATE_BLOCKS: Final = 2
"""A loss is noticed up to so many callbacks after it happened (measured on JACK), so the stretch that
counts as the DI's reaches that much further on both sides."""

CLICK_MARGIN_FRAMES: Final = 0.25
"""Opening and closing click may differ by this on top of their combined uncertainty: 1.8 mm of air at
48 kHz, a cabinet warming up, somebody passing by."""

SLIP_FRAMES: Final = 1.0
"""Frames are lost whole: a sharp difference smaller than one is no lost frame."""

SHARP_FRAMES: Final = 0.5
"""A reading is sharp when its uncertainty is below this: it can then tell one whole frame from none."""

CLICK_MOVED_MS: Final = 0.25
"""A click that moved by more between opening and closing, arrival and peak alike, though no frame was lost,
is worth a look: a hand's breadth of air, 8.6 cm; common practice, no source. A saturated amp and echoes may
make two peaks of a click alike, and which of them wins moves the peak alone."""

CLICK_LOOSE_MS: Final = 0.1
"""A click that noise and movement leave less certain than this is worth a look: 3.4 cm of air, more than
one would move a microphone by mistake; common practice, no source. Quieter or louder, it can be better."""

PLACEMENT_LOOSE_MS: Final = 0.5
"""A placement less certain than this in all is worth a look: two variants so far apart notch each other
from 1 kHz up (half a period of it). What a loudspeaker or a wah smears is most of it, and alike in all
variants of a chain."""

CABLE_SURE: Final = 0.9
"""A loop or witness that is less sure of its place proves nothing: a cable brings back a copy, and a copy
is either there or not."""

MUSIC_SURE: Final = 0.9
"""The music is evidence from this confidence on: one wrong place in ten is the most that may stand behind
a word to an engineer."""

MUSIC_AGREES_MS: Final = 0.5
"""Music this near to where a pass was placed confirms it. Drive up to 60 dB moves an attack by 4 frames
(the goal of `audio.measure`), a gate's or a compressor's attack by some tenths of a millisecond more;
17 cm of air. Common practice, no source."""

DRIFT_FRAMES: Final = 1.0
"""One stream has one clock, so a loop or witness cannot drift; one that does, by a frame over the pass and
more than its uncertainty, runs through two clocks and a converter of rates between them."""

COVERED_S: Final = 0.5
"""A cable that was compared with the DI to within this of its last note was compared to its end: the last
of its blocks begins so much earlier, and a note dies away in it."""

BOTH_WAYS_S: Final = 0.5
"""What both directions lose at once is back in its place after one round trip, some tens of milliseconds
with usual buffers; half a second leaves room for large ones and for how exactly a slip is placed."""

SWAY_MS: Final = 10.0
"""A chain whose clicks contradict each other may carry attacks so far: a chorus sways by some milliseconds
either way. Steps within it are not told from the pedal; common practice, no source."""

# ------------------------------------------------------------------ the same sound as then

SAME_LEVEL_DB: Final = 0.5
"""A level within this is the same: two takes of one setting are matched by ear to about as much, and knobs
are not set back more finely by hand; common practice, no source."""

SAME_THIRD_DB: Final = 1.0
"""The same of a third-octave band: the least difference of a narrow band that is heard in music is about a
decibel; common practice, no source."""

SAME_DISTANCE_CM: Final = 1.0
"""The same of a microphone's place: half a dB at 15 cm, a tenth of a wave at 3 kHz; a stand is not set back
more finely by hand."""

SAME_SEND_DB: Final = 0.3
"""The same of the send, by the witness: cables only lie between, and a trim can be set as finely."""

SAME_NOISE_DB: Final = 3.0
"""Noise in the rests within this is the same: an idle amp wanders by 1 to 3 dB as it warms up; common
practice, no source."""

FLOOR_TIMES: Final = 2.0
"""No tolerance is tighter than so many times what two takes in a row differ by. Of three like takes with
Gaussian scatter the third differs from the first by more than twice what the second does in 27 of 100 (a
Cauchy ratio with correlation ½): wider would hide what moved, and it counts only where the floor is more
than half of the tolerance, which is shown beside it."""

FLOOR_UNKNOWN_TIMES: Final = 1.5
"""Tolerances are wider by this where the sound was recorded once only: two takes through an amp that is not
touched differ by some tenths of a dB, and nobody measured how many; common practice, no source."""

BENT_OVER_FLOOR_DB: Final = 6.0
"""What no filter explains must come up to four times the power of what two takes in a row leave: twice is
added by the second take's own noise, and twice more by how few moments tell it."""

BENT_LEAST_DB: Final = -55.0
"""Under this what no filter explains is not heard beside the playing, and no amp repeats so well."""

MOVES_BENT_DB: Final = -25.0
"""A chain whose two takes in a row leave so much that no filter explains moves by itself: a tremolo, a
chorus. Noise 25 dB under playing would be louder than any amp's; common practice, no source."""

DRIVE_TOLD_DB: Final = 0.1
"""A drive that is told to have changed by less has not: nothing turned, it reads some hundredths. Through
an echo, whose repeats the DI does not foretell, a decibel may read as little as this."""

DRIVE_ALONE_DB: Final = 0.4
"""The same where nothing but soft and hard playing tells the drive: through a chain that moves by itself,
or under a noise that hides what no filter explains."""

DRIVE_SHOWN_DB: Final = 0.6
"""A change of drive that reads so much must be told before nothing is said to have moved: as little may be
read of a whole decibel through a chain that moves."""

LEVEL_SHIFTED_DB: Final = 0.15
"""Every return of a moving chain that is off by this, and more than its floor, is off by something: a
tremolo averages out to some hundredths of a dB over fifteen seconds."""
