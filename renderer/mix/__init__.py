"""A lesson's sound, from its schedules. No picture, no frame."""
