"""The logbook: the logs and flights of a pilot in one file, with what the pilot says about them."""
