"""Pictures to frames, films and stills. Only here frames a second are known."""
