"""Every threshold of what is said of a DI before it is sent, with its reason."""

from __future__ import annotations

from typing import Final

# ------------------------------------------------------------------ file

FEW_BITS: Final = 16
"""Bits from which on down the steps themselves are heard: 98 dB under full scale, and a DI that peaks at
−12 dBFS through 50 dB of gain has them at −48 dBFS or so; common practice, no source."""

LONG_SILENCE_S: Final = 10.0
"""Silence at an end that is worth a line: so long the room waits for nothing. Files that all begin at the
song's zero have it on purpose; common practice, no source."""

# ------------------------------------------------------------------ level

OVER_DBFS: Final = 0.0
"""A float file may hold more; the converter does not."""

TRUE_PEAK_OVER_DBTP: Final = 0.0
"""What goes over between the samples overloads the filters of some converters (ITU-R BS.1770-5, annex
2)."""

LOW_DBFS: Final = -36.0
"""A DI whose peaks stay under this was recorded 20 dB and more under what instrument inputs are set for
(peaks of −18 to −6 dBFS); its noise comes up by that; common practice, no source."""

DC_TOLD: Final = 0.003
"""Direct current, full scale 1, that is worth a look: −50 dBFS, a click where playback starts and stops.
Every pedal's input blocks it; common practice, no source."""

CLIPS_FEW: Final = 3
"""Clipped runs that may be a few hard strokes that just touch; more are an input set too high. Common
practice, no source."""

# ------------------------------------------------------------------ edges and joints

EDGE_CLICK_DB: Final = 12.0
"""A step at an end that stands this far over the sound beside it is a click of its own: four times its
RMS, more than the sound's own crest; common practice, no source."""

EDGE_TOLD_DBFS: Final = -80.0
"""A step that is smaller is not told: through 50 dB of gain it lies at −30 dBFS among the noise that the
same gain brings up; common practice, no source."""

JOINT_SURE: Final = 0.9
"""A joint told with at least this confidence, and at least so loud, is one to be mended before the amp is
hot."""

JOINT_DOUBTED: Final = 0.4
"""A joint that is told with less is more likely none; it informs."""

JOINT_LOUD_DB: Final = 24.0
"""Over what prediction leaves of the signal: from about here on a click is heard through a clean amp,
through drive from 18 dB; common practice, no source."""

ATTACK_HIDES_MS: Final = (8.0, 12.0)
"""A joint so little before a hit, or so little behind where one begins, is hidden by its attack: backward
masking reaches some milliseconds, and a pick's own scrape is as loud as such a step (Moore, An
Introduction to the Psychology of Hearing, on backward and forward masking, from memory). Editors cut there
for that reason."""

FEW_REPEATS: Final = 4
"""Copies that are told one by one; a loop that goes round is told once."""

# ------------------------------------------------------------------ between the phrases

GAINS_DB: Final = (30.0, 50.0)
"""What a crunch and a high-gain chain add to what is quiet; common practice, no source."""

HEADROOM_DB: Final = 0.0
"""How much of that the notes themselves take: they stand at the limit of such a chain already, and what
lies under them comes up by all of its gain; common practice, no source."""

HEARD_UNDER_DB: Final = 30.0
"""What lies closer than this under the notes, once 30 dB of gain have brought it up, is heard between them
even beside a band; common practice, no source."""

STEADY_S: Final = 0.5
"""Hum or noise that lasts less may be the end of a note that rings; common practice, no source."""

# ------------------------------------------------------------------ hits

OFF_TOLD_MS: Final = 15.0
"""A hit that is further off is told in the sum: 10 to 20 ms is where a flam begins to be heard as two
strokes (common practice, no source). It informs; feel is not a fault."""

APART_TOLD_MS: Final = 25.0
"""Doubles whose hits lie further apart than this sound like two strokes; common practice, no source."""
