"""Files on disk: Broadcast Wave, capture, repair, atomic text, locks."""
