"""The segment `wheel`: its scene and the parts that only it uses."""
