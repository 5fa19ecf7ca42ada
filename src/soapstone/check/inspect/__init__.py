"""A made tube held against its drawing: what to tape on it, and what the readings tell."""
