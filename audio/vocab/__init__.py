"""Words every room shares: units, wiring, messages, results, findings, errors; no numpy."""
