"""A real terminal, through tmux: a command is typed, keys are pressed, what stands there is read as text.

Each terminal is a tmux server of its own, so that nobody else's is ever met or ended. A plain shell runs
in it, as it would for an engineer: what the program leaves behind is what that shell is left with.
"""

from __future__ import annotations

import itertools
import os
import shlex
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

COMMAND = Path(sys.executable).with_name("secondpass")
PROMPT = "ready> "
LOOK_S = 0.05
LONGEST_S = 45.0
"""A shared machine may be slow; what takes longer than this hangs."""

_NUMBERS = itertools.count(1)

_FLAGS = (
    "alternate_on",
    "cursor_flag",
    "mouse_any_flag",
    "mouse_sgr_flag",
    "keypad_flag",
    "keypad_cursor_flag",
)
"""What a program may change of a terminal, as tmux tells it: other screen, cursor, mouse, keypad."""


@dataclass(frozen=True)
class Manners:
    """How a terminal behaves: what must be the same before a program and after it."""

    line: str
    """Every setting of the line, echo among them: ``stty -g``."""
    flags: tuple[str, ...]
    """`_FLAGS`, in their order."""

    @property
    def other_screen(self) -> bool:
        """Whether a program has put its own screen over what stood there."""
        return self.flags[0] == "1"


class Terminal:
    """One terminal of so many cells; `window` names another one beside it."""

    def __init__(self, *, columns: int, rows: int, folder: Path, env: dict[str, str]) -> None:
        self._server = f"secondpass-test-{os.getpid()}-{next(_NUMBERS)}"
        self._env = {key: value for key, value in env.items() if not key.startswith("TMUX")}
        configured = folder / "tmux.conf"
        configured.write_text("set -g status off\nset -s escape-time 0\n")
        size = ("-x", str(columns), "-y", str(rows))
        begin = ("-f", str(configured), "new-session", "-d", "-n", "desk", *size)
        self._shell = ("-c", str(folder), "env", f"PS1={PROMPT}", "sh")
        self._tmux(*begin, *self._shell)

    def _tmux(self, *words: str) -> str:
        done = subprocess.run(
            ["tmux", "-L", self._server, *words],
            env=self._env,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=LONGEST_S,
            check=True,
        )
        return done.stdout.decode()

    def close(self) -> None:
        """End this terminal's own server, and with it what still runs there."""
        socket = self._tmux("display-message", "-p", "#{socket_path}").strip()
        self._tmux("kill-server")
        Path(socket).unlink(missing_ok=True)

    # ------------------------------------------------------------ at the keyboard

    def add_window(self, name: str) -> None:
        """Open another terminal beside this one."""
        self._tmux("new-window", "-d", "-n", name, *self._shell)
        self.wait_for(PROMPT.strip(), window=name)

    def run(self, *words: object, window: str = "desk", **env: str) -> None:
        """Type the program's command and press enter; the shell tells how it ended as ``ended N``."""
        self.run_other(COMMAND, *words, window=window, **env)

    def run_other(self, *words: object, window: str = "desk", **env: str) -> None:
        """Type any command, as `run` does."""
        settings = [f"{key}={value}" for key, value in env.items()]
        command = shlex.join(["env", *settings, *map(str, words)])
        self.type(f'clear; {command}; echo "ended $?"', window=window)
        self.press("Enter", window=window)

    def press(self, *keys: str, window: str = "desk") -> None:
        """Press keys, each named as tmux names it: ``Right``, ``Space``, ``o``."""
        self._tmux("send-keys", "-t", window, *keys)

    def type(self, text: str, *, window: str = "desk") -> None:
        """Type text, letter by letter."""
        self._tmux("send-keys", "-l", "-t", window, text)

    # ------------------------------------------------------------ at the glass

    def text(self, window: str = "desk") -> str:
        """Return what stands there, line by line."""
        return self._tmux("capture-pane", "-p", "-t", window)

    def coloured(self, window: str = "desk") -> str:
        """Return what stands there with the sequences that colour it."""
        return self._tmux("capture-pane", "-p", "-e", "-t", window)

    def until(
        self,
        seen: Callable[[str], bool],
        why: str,
        *,
        window: str = "desk",
        limit_s: float = LONGEST_S,
    ) -> str:
        """Return what stands there as soon as it is as claimed; a terminal has no event to offer."""
        end = time.monotonic() + limit_s
        while not seen(shown := self.text(window)):
            assert time.monotonic() < end, f"{why}; there stands:\n{shown}"
            time.sleep(LOOK_S)
        return shown

    def wait_for(self, *words: str, window: str = "desk", limit_s: float = LONGEST_S) -> str:
        """Wait until all of these words stand there; return everything that does."""
        return self.until(
            lambda shown: all(one in shown for one in words),
            f"waited for {words}",
            window=window,
            limit_s=limit_s,
        )

    def ended(self, window: str = "desk") -> int:
        """Wait until the command has ended and the shell is back; return its exit code."""
        shown = self.until(
            lambda shown: "\nended " in f"\n{shown}" and shown.rstrip().endswith(PROMPT.strip()),
            "waited for its end",
            window=window,
        )
        return int(f"\n{shown}".rpartition("\nended ")[2].split()[0])

    def manners(self, window: str = "desk") -> Manners:
        """Return how the terminal behaves now."""
        formats = " ".join(f"#{{{flag}}}" for flag in ("pane_tty", *_FLAGS))
        tty, *flags = self._tmux("display-message", "-p", "-t", window, formats).split()
        asked = subprocess.run(["stty", "-g", "-F", tty], capture_output=True, check=True)
        return Manners(line=asked.stdout.decode().strip(), flags=tuple(flags))

    def resize(self, columns: int, rows: int, window: str = "desk") -> None:
        """Drag the terminal's corner."""
        self._tmux("resize-window", "-t", window, "-x", str(columns), "-y", str(rows))

    def program(self, window: str = "desk") -> int:
        """Return the process id of the program that runs there."""
        shell = self._tmux("display-message", "-p", "-t", window, "#{pane_pid}").strip()
        found: list[int] = []

        def there() -> bool:
            children = Path(f"/proc/{shell}/task/{shell}/children").read_text().split()
            found.extend(int(one) for one in children)
            return bool(found)

        self.until(lambda _: there(), "no program runs there", window=window)
        return found[0]


def environment(folder: Path, env: dict[str, str]) -> dict[str, str]:
    """Return an environment in UTF-8 with colours, in which no settings of the user's own are found."""
    kept = {key: value for key, value in env.items() if key not in ("NO_COLOR", "COLUMNS", "LINES")}
    return kept | {
        "LC_ALL": "C.UTF-8",
        "COLORTERM": "truecolor",
        "XDG_CONFIG_HOME": str(folder / "config"),
    }


@contextmanager
def terminal(
    folder: Path, *, columns: int = 80, rows: int = 24, env: dict[str, str] | None = None
) -> Iterator[Terminal]:
    """Yield a terminal whose shell stands in `folder`; it goes away with everything in it.

    Needs tmux (Debian: tmux).
    """
    given = environment(folder, dict(os.environ) if env is None else env)
    opened = Terminal(columns=columns, rows=rows, folder=folder, env=given)
    try:
        opened.wait_for(PROMPT.strip())
        yield opened
    finally:
        opened.close()
