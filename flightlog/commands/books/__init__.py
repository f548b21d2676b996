"""The commands of the logbook: one file each."""
