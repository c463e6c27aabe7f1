"""Findings from measurements, every threshold with its reason; pure, no numpy."""
