"""Distances of a flight over chosen turnpoints: straight, free, out and return, triangles."""
