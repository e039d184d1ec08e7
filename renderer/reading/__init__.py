"""From text to a spec. The music is not known here."""
