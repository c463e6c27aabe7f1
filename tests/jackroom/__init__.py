"""A private JACK server with a room in it whose truth is known: a real audio device without hardware."""
