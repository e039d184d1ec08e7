"""The thumbnail: one picture that is read at the size of a stamp."""
