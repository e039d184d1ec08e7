"""The line of music and what stands on it. No show is known here."""
