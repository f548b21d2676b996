"""Tasks: cylinders in order, their geometry, and the shortest way round them."""
