"""The segment `handover`: its scene and the parts that only it uses."""
