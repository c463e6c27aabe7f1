"""What loads scipy is loaded by one thread at a time.

Two threads that load parts of it at once wait for each other in a circle; Python (3.11) breaks that by
letting one of them go on with a package that is not there. Seen once in a whole run of the tests: a pass
was refused with `KeyError: 'scipy'`.
"""

from __future__ import annotations

import threading

LOADING = threading.Lock()
"""Held around an import of what takes a moment to load."""
