"""The colours of the sheets: slate ink on white paper, and one warm accent."""

INK = "#1e2a30"
"""Slate, nearly black: text and outlines."""

SLATE = "#27363d"
"""The dark band that chalk is written on."""

STONE = "#5d6c73"
"""Second voice: notes, graduations, hidden or past things. 5.4:1 on white."""

PALE = "#b9c4c8"
"""Hairlines and construction lines."""

MIST = "#e6ebec"
"""The body of a straight, and quiet areas."""

HAZE = "#f4f6f6"
"""Ghosts: where a tube was or will be."""

CHALK = "#fbfaf5"
"""Writing on slate."""

EMBER = "#b8430f"
"""The accent: bends, marks, what to do now. 5.7:1 on white, a mid grey in black and white."""

CLAY = "#f1c6ab"
"""The body of a bend: the accent thinned."""

SAND = "#fdf3ec"
"""Ground of a warm area."""

PAPER = "#ffffff"
