"""Files that come with the install: fonts, themes, the starter spec."""
