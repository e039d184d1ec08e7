"""The segment `fit`: its scene and the parts that only it uses."""
