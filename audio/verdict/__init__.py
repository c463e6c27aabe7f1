"""Findings from measurements, in trade words; every threshold stands in `thresholds` with its reason."""
