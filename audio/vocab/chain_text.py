"""The text of a chain's file, so that reading it gives the same chain back."""

from __future__ import annotations

from audio.vocab.chain import AmpAsSet, Chain, MicAsSet, Pedal
from audio.vocab.yaml_text import block, flow

_HEAD = "# A chain: pedals in the order the signal runs, amp, microphones; settings as they are written.\n"


def chain_text(chain: Chain) -> str:
    """Return a chain as YAML, whole: what another chain gave it is written out.

    `audio.vocab.chain_file.parse_chain` reads it back to the same value but for `Chain.like`.
    """
    fields: dict[str, object] = {"name": chain.name}
    if chain.pedals:
        fields["pedals"] = [_pedal(one) for one in chain.pedals]
    if len(chain.amps) == 1 and not chain.amps[0].name:
        fields["amp"] = _amp(chain.amps[0])
    elif chain.amps:
        fields["amps"] = [_amp(one) for one in chain.amps]
    if chain.mics:
        fields["mics"] = [_mic(one) for one in chain.mics]
    if chain.note:
        fields["note"] = chain.note
    photos = [f"photos: {flow(chain.photos)}"] if chain.photos else []
    return _HEAD + "\n".join([*block(fields), *photos]) + "\n"


def _pedal(one: Pedal) -> dict[str, object]:
    fields: dict[str, object] = {"pedal": one.name}
    fields |= {"knobs": one.knobs} if one.knobs else {}
    fields |= {"moves": True} if one.moves else {}
    return fields | ({"note": one.note} if one.note else {})


def _amp(one: AmpAsSet) -> dict[str, object]:
    fields: dict[str, object] = {
        key: getattr(one, key) for key in ("name", "input", "knobs") if getattr(one, key)
    }
    fields |= {"loop": [_pedal(pedal) for pedal in one.loop]} if one.loop else {}
    return fields | {
        key: getattr(one, key) for key in ("speaker", "tap", "note") if getattr(one, key)
    }


def _mic(one: MicAsSet) -> dict[str, object]:
    words = ("mic", "place", "preamp", "gain", "pad", "filters", "outboard")
    return {"return": one.return_name} | {
        key: getattr(one, key) for key in words if getattr(one, key)
    }
