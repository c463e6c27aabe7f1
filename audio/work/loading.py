"""What loads scipy is loaded by one thread at a time.

In a whole run of the tests a pass was once refused with `KeyError: 'scipy'`, while one thread of the worker
prepared for a pass and another loaded what a request needed. It was never seen again, nor could it be
provoked; two threads in one package's imports are the likely cause, so they take turns.
"""

from __future__ import annotations

import threading

LOADING = threading.Lock()
"""Held around an import of what takes a moment to load."""
