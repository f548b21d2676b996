"""From results to files."""
