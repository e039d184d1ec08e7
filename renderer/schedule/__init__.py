"""What a segment does when, in exact seconds: a file for each show. No picture, no sound."""
