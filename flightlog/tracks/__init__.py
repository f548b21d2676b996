"""Readers: from a log file to a Track."""
