"""Words as people type them, for properties of what is written and read back."""

from __future__ import annotations

from hypothesis import strategies as st

from audio.vocab.characters import is_hidden


def titles(*, longest: int) -> st.SearchStrategy[str]:
    """Return texts that show something and hide nothing."""
    printable = st.characters(exclude_categories=["Cc", "Cf", "Cs", "Cn", "Co", "Zl", "Zp"])
    texts = st.text(printable, min_size=1, max_size=longest)
    return texts.filter(lambda t: t.strip() and not any(map(is_hidden, t)))
