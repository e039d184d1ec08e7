"""What a published lesson needs besides its films, as files for other programs: one file a kind."""
