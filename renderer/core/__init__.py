"""What everything else may use: errors, limits, names, the time grid, files. Nothing above is known here."""
