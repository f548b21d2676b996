"""A season of flights: trends, calendar, places, and the map of where thermals come from."""
