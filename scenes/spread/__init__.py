"""The segment `spread`: its scene and the parts that only it uses."""
