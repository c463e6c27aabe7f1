"""What every test may ask for, and how strict all of them are."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack

from audio.vocab import children

# Arithmetic runs on one thread here, as in every process of the program that computes: what waits for work
# on a second one would take the core from the other tests. It is read once, when numpy is loaded.
os.environ.update(children.environment())

import numpy as np
import pytest
from hypothesis import settings
from jackroom import rig
from jackroom.rig import JackRoom

np.seterr(
    all="raise", under="ignore"
)  # an infinity or a NaN made on the way is a bug, not a result

# Speed is for benchmarks. At the desk examples are drawn anew each time; what CI judges it judges alike.
settings.register_profile("ours", deadline=None, derandomize=os.environ.get("CI") == "true")
settings.load_profile("ours")


AUDIO_SERVER = ("tests/jack/", "tests/contract/")
"""Where tests use an audio server, of which there is one at a time: in one process, so that the other need
not wait."""


def pytest_configure(config: pytest.Config) -> None:
    """Keep bytecode with pytest's own where none may lie beside the source: hundreds of processes start."""
    if sys.dont_write_bytecode and config.pluginmanager.hasplugin("cacheprovider"):
        os.environ["PYTHONPYCACHEPREFIX"] = str(config.cache.mkdir("bytecode"))
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)


@pytest.hookimpl(tryfirst=True)  # xdist reads the marks in its own turn
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if item.nodeid.startswith(AUDIO_SERVER):
            item.add_marker(pytest.mark.xdist_group("audio server"))
        if item.nodeid.startswith("tests/browser/"):  # one browser at a time is started
            item.add_marker(pytest.mark.xdist_group("browser"))


@pytest.fixture(autouse=True, scope="session")
def nobody_s_own_folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keep the settings and chains of whoever runs the tests out of them."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))
        yield


@pytest.fixture
def jack_room() -> Iterator[Callable[..., JackRoom]]:
    """Give a factory of JACK rooms, ``jack_room(rate=, period=, paths=, **rest of RoomSpec)``.

    Servers and rooms go away with the test. A test that asks for this is marked `needs.needs_jack`.
    """
    with ExitStack() as open_rooms:
        yield lambda **wanted: open_rooms.enter_context(rig.jack_room(**wanted))
