"""The process that owns the one duplex stream; it obeys, it never measures."""
