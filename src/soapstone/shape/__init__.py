"""Each tube's wish made into a free shape."""
