"""Musical time, exact: from a spec to the timeline. No text, no file, no picture, no sound."""
