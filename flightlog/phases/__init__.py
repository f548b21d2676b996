"""What the pilot was doing, and when."""
