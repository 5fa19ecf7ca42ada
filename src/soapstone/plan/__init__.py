"""The plan: loaded shape, marks, dial stops, rolls, level readings, seam, check distances."""
