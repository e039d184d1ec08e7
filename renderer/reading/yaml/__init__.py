"""YAML text to nodes with places, and what is wrong with the text. No key of a spec is known here."""
