"""The session folder: layout, variants, journal, recovery, lock."""
