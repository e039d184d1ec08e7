"""The pictures: from a timeline and a schedule to shapes. No file, no encoder, no frames a second."""
