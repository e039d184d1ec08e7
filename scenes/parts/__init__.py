"""The segment `parts`: its scene and the parts that only it uses."""
