"""Makes and measures sound; knows no screen."""
