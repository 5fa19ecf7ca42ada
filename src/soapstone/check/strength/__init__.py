"""A job's tubes as one frame: what its feet carry, how far it gives, and what is left of yield.

`model` says what goes in and comes out, `mesh` cuts tubes into beams, `beams` has the beam's own
equations, `frame` puts all together and solves, `cases` reads stresses off, `modes` finds buckling
and the lowest note.
"""
