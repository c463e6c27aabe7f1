"""What arrays say: delay, level, noise, polarity, loudness; pure."""
