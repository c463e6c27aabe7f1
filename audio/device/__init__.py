"""The device port and what stands behind it: PortAudio and the simulated room."""
