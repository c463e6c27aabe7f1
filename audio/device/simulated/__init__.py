"""The device without hardware: an interface, an amp and microphones with known truth."""
