"""What the engineer does: new, add, wire, delay, pass; no numpy."""
