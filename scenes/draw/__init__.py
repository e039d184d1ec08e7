"""Outlines, text, colours, and what a picture is. No show is known here."""
