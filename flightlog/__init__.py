"""flightlog: from the track log of a soaring day to numbers a pilot can trust."""
