"""A lesson: a spec that has been opened, with its timeline and the schedule of each segment."""
