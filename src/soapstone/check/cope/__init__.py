"""Ends of tubes cut to sit on another tube, straight or bent, or on a plate.

`profile` finds where the cut runs, all round; `joint` what a fabricator needs to know of it.
"""
