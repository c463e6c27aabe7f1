"""Reading the command line: help like a manual page, mistakes in one sentence."""

from __future__ import annotations

import argparse
import difflib
import sys
from typing import Any, NoReturn

from tui.present.terminal import put, say

WRONG_USE = 2


class Manual(argparse.RawDescriptionHelpFormatter):
    """Help that reads like the first screen of a manual page."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, max_help_position=26, width=79)

    def _format_action(self, action: argparse.Action) -> str:
        if action.nargs != argparse.PARSER:
            return super()._format_action(action)
        self._dedent()  # the verbs stand where the options stand
        verbs = "".join(map(self._format_action, self._iter_indented_subactions(action)))
        self._indent()
        return verbs


class Once(argparse.Action):
    """Keeps a value that may be given once: of two, one would be lost without a word."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: object,
        option_string: str | None = None,
    ) -> None:
        """Keep it; end with one sentence where there is one already."""
        if option_string is not None and getattr(namespace, self.dest) is not self.default:
            parser.error(f"{option_string} stands there twice; give it once")
        setattr(namespace, self.dest, values)


class Parser(argparse.ArgumentParser):
    """Says what is wrong in one sentence."""

    def __init__(self, *args: Any, **keys: Any) -> None:
        super().__init__(*args, **keys)
        self.register("action", None, Once)

    def error(self, message: str) -> NoReturn:
        """Print one sentence and exit with 2."""
        say(f"{self.prog}: {message}; see {self.prog} --help")
        raise SystemExit(WRONG_USE)

    def _check_value(self, action: argparse.Action, value: Any) -> None:
        if action.choices is None or value in action.choices:
            return
        near = difflib.get_close_matches(str(value), map(str, action.choices), n=1)
        way_out = "did you mean" if near else "write one of"
        what = "verb" if action.nargs == argparse.PARSER else action.dest
        options = ", ".join(near or map(str, action.choices))
        raise argparse.ArgumentError(None, f"there is no {what} {value!r}; {way_out} {options}")

    def _print_message(self, message: str, file: Any = None) -> None:
        put(file or sys.stderr, message)


class ShowVersion(argparse.Action):
    """Prints the version, looked up only then."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        """Print it and exit with 0."""
        from importlib.metadata import version  # noqa: PLC0415 - 20 ms that only --version needs

        put(sys.stdout, f"{parser.prog} {version('secondpass')}\n")
        parser.exit()
