"""The landings of a season: places, tries, go-arounds, and the winds they happened in."""
