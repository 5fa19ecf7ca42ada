"""The route designer: finds the tube with the fewest bends that keeps clear of all that is in the way."""
