"""The segment `compare`: its scene and the parts that only it uses."""
