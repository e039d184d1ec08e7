"""What all WebM files have in common, of pictures or of sound."""

EBML = bytes.fromhex("1a45dfa3")
"""What every one begins with (RFC 8794, 11.2.1)."""
EXACT = {"fflags": "+bitexact"}
"""Else FFmpeg puts a number by chance into the file."""
