"""What a spec says, as frozen values. No text, no file, nothing worked out."""
