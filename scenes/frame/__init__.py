"""What stands round the music: title, counter, foot, captions. No show is known here."""
