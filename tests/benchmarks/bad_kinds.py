"""Every kind of input somebody else may have written: a reader of new files adds an entry here."""

from __future__ import annotations

import bad_choices
import bad_json
import bad_lines
import bad_names
import bad_sound
import bad_tempo
import bad_yaml
from bad_kind import Kind

KINDS: tuple[Kind, ...] = (
    *bad_yaml.kinds(),
    *bad_json.kinds(),
    *bad_sound.kinds(),
    *bad_tempo.kinds(),
    *bad_lines.kinds(),
    *bad_names.kinds(),
    *bad_choices.kinds(),
)
