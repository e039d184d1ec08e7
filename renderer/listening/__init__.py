"""What a score or a MIDI file says, and the figure in it: a file to the text of a spec."""
