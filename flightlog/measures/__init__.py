"""What each part of the flight was worth."""
