"""barcross: lesson videos about rhythmic figures that run across the bar, from one text spec."""
