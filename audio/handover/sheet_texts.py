"""What stands on every recall sheet, whatever sounds are on it."""

from __future__ import annotations

HOW_TO_READ = (
    (
        "Each sound has its chain card first: the way of the signal from top to bottom, every"
        " knob as it was written. Set that, then the send, then the microphones by their places"
        " and distances."
    ),
    (
        "Then play the phrase and compare: the tables under “To prove it” say what came back"
        " when this sound was made. What names of places and knobs mean, only those know who"
        " wrote them."
    ),
    (
        "Levels are dBFS: 0 is full scale. A dash means: not known. A picture's lines have"
        " numbers, which stand below it."
    ),
)

CAUTIONS = (
    (
        "A valve amp needs a speaker or its rated load whenever it is on. Standby before you"
        " replug. The inside of an amp is for a qualified technician."
    ),
    ("Never lift the mains safety earth against hum; use the ground lift of the reamp or DI box."),
    (
        "Phantom power off wherever it could meet the patch. A line output can be far hotter"
        " than a guitar: use a reamp box, start with its level down, and keep monitors and"
        " system sounds off the send."
    ),
    (
        "The amp plays as loud as it is set, as soon as something is sent. Loud amps harm"
        " hearing: NIOSH 98-126 recommends at most 85 dBA over 8 hours, half the time for each 3"
        " dB more."
    ),
    "Local rules and licensed practice come before anything written here.",
)

MEASURED = (
    (
        "Peak: the largest sample. RMS: plain, a full-scale sine reads −3.0 dBFS; direct"
        " current is in it."
    ),
    "True peak: at 192 kHz or more, ITU-R BS.1770-5, annex 2. Crest: peak less RMS.",
    (
        "Loudness: integrated with both gates, ITU-R BS.1770-5, heard on ONE loudspeaker; on"
        " two it reads 3 LU more."
    ),
    ("Third octaves: power between the edges of the bands of IEC 61260-1, windows of one second."),
    (
        "Noise: RMS over the whole band, unweighted; of the whole recording before anything was"
        " sent, over the phrase in the quietest half second in which the DI rests, 40 dB under"
        " its loudest. Hum: the first six lines of 50 or 60 Hz together, where they stand out."
    ),
    (
        "Clipped: three samples or more in a row at full scale. Polarity: by the test click,"
        " and by sum against difference with the reference at 80 to 400 Hz."
    ),
    (
        "Round trip and distances: first arrival of the test click, ± is a 95 % interval;"
        " centimetres of air at the temperature of the wiring, ISO 9613-1."
    ),
    (
        "Originals: first arrival by the music against the newest DI, time stamps taken into"
        " account; loudness over the part's loudest minute against the average of its sounds on"
        " this sheet, each at its balance."
    ),
    "dBu: over 0.7746 V RMS.",
)
