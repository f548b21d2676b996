"""The wind, and motion through the air."""
