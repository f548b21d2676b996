"""The earth and its air: distances, heights, the standard atmosphere."""
