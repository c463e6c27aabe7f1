"""Pedals of the simulated room, and the chains they stand in."""
