"""Where the program itself lies: its packages side by side, by their place and not by their names, which others have
too."""

from pathlib import Path

HOME = Path(__file__).resolve().parents[2]
ASSETS = HOME / "assets"
"""Fonts, themes and the first spec."""
