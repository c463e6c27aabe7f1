"""Wirings that tests of the wiring file begin from."""

from audio.vocab.wiring import Wiring
from audio.vocab.wiring_file import parse_wiring

WHOLE = """\
name: tracking room
device: {kind: portaudio, host: JACK Audio Connection Kit, name: reamp-room}
sample_rate: 48000
block_frames: 512
send: {output: 3}
returns:
  - {name: close, input: 2}
  - {name: room, input: 3}
reference: close
witness: {input: 5}
loop: {output: 8, input: 8}
listen: {outputs: [1, 2]}
align_to: di
depth: 24
click: {start_dbfs: -40, ceiling_dbfs: -12}
tail_s: 12
room_celsius: 23.5
"""

SIMULATED = """\
name: simulated
device:
  kind: simulated
  pace: free
  inputs: 6
  outputs: 4
  seed: 7
  converter_frames: 100.25
  amp: {drive_db: 30, asymmetry: 0.1, clean: false}
  microphones:
    - {input: 1, distance_cm: 3.5, cabinet: open back, gain_db: -3, inverted: true}
    - {input: 2}
  noise_dbfs: -70
  hum: {hz: 60, level_dbfs: -55}
  crosstalk_db: -60
  chains:
    fuzz: [{pedal: drive, gain_db: 30, tone: [1, 2]}, {pedal: gate}]
    nothing in it: []
  faults:
    - {fault: dead cable, at_s: 2.5, really: true, note: null}
sample_rate: 44100
send: {output: 2}
returns: [{name: close, input: 1}]
"""


def parsed(text: str) -> Wiring:
    return parse_wiring(text, where="w.yaml")


def changed(line: str, to: str, *, text: str = WHOLE) -> str:
    assert text.count(line) == 1
    return text.replace(line, to)
