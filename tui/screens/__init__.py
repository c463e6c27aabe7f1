"""Views that fill the terminal: each composes widgets and names the actions it has."""
