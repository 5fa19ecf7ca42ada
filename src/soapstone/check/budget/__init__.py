"""Where a tube's ends land when everything is a little off, and which of it matters most.

`linear` carries small errors through the chain, `sampled` makes the tube many times over, `budget`
brings both together, `gains` says what would help.
"""
