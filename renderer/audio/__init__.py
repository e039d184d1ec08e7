"""Samples: how things sound, loudness, sound files. No timeline, no schedule."""
