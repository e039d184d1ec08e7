"""The timeline in words, tables and JSON. No picture, no sound."""
