"""The segment `form`: its scene and the parts that only it uses."""
