"""What the command line calls things, and its help: one function a verb."""
