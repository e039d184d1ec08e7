"""The segment `crossings`: its scene and the parts that only it uses."""
