"""Signals that are sent: the test click; pure."""
