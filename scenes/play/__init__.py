"""The segment `play`: its scene and the parts that only it uses."""
