"""Faces: the command line (and, later, the full screen)."""
