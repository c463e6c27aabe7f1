"""The exceptions of the program.

The tree::

    SecondpassError          never raised itself; ``exit_code`` is what the command line returns
    ├── UseError             2   wrong use or bad input: what is wrong, where, and the way out
    └── DeviceError          3   the device, the engine or the worker failed

A message is one sentence an engineer can act on. A measurement that fails is not an exception: it is
a result with a ``reason``.
"""

from __future__ import annotations

from audio.vocab.characters import escaped


class SecondpassError(Exception):
    """Root of everything this program raises on purpose."""

    exit_code = 3

    def __str__(self) -> str:
        """Return the message; hidden characters of a name it repeats stand as escapes."""
        return escaped(super().__str__(), but="\n")


class UseError(SecondpassError):
    """Wrong use or bad input; nothing was changed."""

    exit_code = 2


class DeviceError(SecondpassError):
    """The device, the engine or the worker failed; what was recorded so far is kept."""

    exit_code = 3
