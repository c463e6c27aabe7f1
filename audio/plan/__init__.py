"""What comes next, from what is known: pure, no files, no clock, no arrays."""
