"""Musical time: tempo, bars, note values; pure."""
