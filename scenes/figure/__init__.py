"""The segment `figure`: its scene and the parts that only it uses."""
