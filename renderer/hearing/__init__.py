"""What is heard in a recording: attacks, beats, harmony. No timeline, no spec."""
