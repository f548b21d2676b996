"""The gliding of many flights: pooled by wing, day or note, a polar for each, and whether two are told apart."""
