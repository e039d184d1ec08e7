"""One text to one value, and what was meant by a text that is none."""
