"""The segment `card`: its scene and the parts that only it uses."""
