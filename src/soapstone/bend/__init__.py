"""The bender in motion: where the tube is at every step, what it hits, and the best order."""
