"""One text to one value; what a wrong text was probably meant to be."""
