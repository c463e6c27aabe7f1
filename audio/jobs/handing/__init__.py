"""Handing over: what goes along is decided first, written then, and proven where it was begun before."""
