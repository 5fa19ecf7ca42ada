"""Vectors, frames, centrelines and solids. Nothing here knows of tubes, dies or shops."""
