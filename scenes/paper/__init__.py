"""Pages on paper: outlines and small black type, the same shapes as in the films. No file format is known here."""
