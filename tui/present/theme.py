"""The colours of every screen of the program, as Textual wants them."""

from __future__ import annotations

from textual.theme import Theme

LOOK = Theme(
    name="secondpass",
    primary="#e8b04b",
    accent="#e8b04b",
    foreground="#d9dce0",
    background="#15171a",
    surface="#15171a",
    panel="#1d2024",
    success="#7fc08a",
    warning="#e8b04b",
    error="#ef7a6d",
    dark=True,
)
