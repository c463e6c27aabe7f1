"""Killing the program's processes at chosen moments, and looking at what is left."""
