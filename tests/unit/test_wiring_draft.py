"""A wiring while it is chosen: a microphone's name is tried on the wiring as it stands."""

from __future__ import annotations

from audio.vocab.devices import DeviceFacts, DeviceList
from tui.draft import Draft

INTERFACE = DeviceFacts(
    host="ALSA", name="an interface", inputs=4, outputs=4, default_rate=48_000.0
)


def draft_with_two_microphones() -> Draft:
    """Return a new session's draft: nothing was wired before, two inputs are now."""
    draft = Draft(base=None, sample_rate=48_000)
    draft.offer(DeviceList(devices=(INTERFACE,)))
    draft.refer(2)
    draft.step_role(3, 1)
    draft.names[2] = "close"
    return draft


def test_the_first_microphones_can_be_named() -> None:
    draft = draft_with_two_microphones()
    assert draft.name_problem(2, "near the cone") is None
    assert draft.name_problem(3, "room") is None


def test_a_name_another_microphone_has_is_refused() -> None:
    assert draft_with_two_microphones().name_problem(3, "close") is not None


def test_trying_a_name_leaves_the_draft_as_it_was() -> None:
    draft = draft_with_two_microphones()
    before = (dict(draft.roles), dict(draft.names), draft.at)
    draft.name_problem(3, "room")
    assert (draft.roles, draft.names, draft.at) == before
