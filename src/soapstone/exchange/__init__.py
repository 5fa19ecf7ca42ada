"""Files other programs read and write."""
