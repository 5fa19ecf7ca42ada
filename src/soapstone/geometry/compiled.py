"""Mark a function as one that is compiled to machine code when it is first called."""

import sys
from collections.abc import Callable
from typing import TypeVar, cast

Function = TypeVar("Function", bound=Callable[..., object])


def is_loaded() -> bool:
    """Whether the compiler is there already, so that using it costs no time to load it."""
    return "numba" in sys.modules


def compiled(function: Function) -> Function:
    """Compile a function of numbers and arrays on its first call; keep the code for later runs.

    The compiler takes half a second to load, so modules with such functions are imported inside
    the functions that use them. The code runs without Python's lock: other threads go on. What is
    kept is found again by the time and size of the function's own file, not of the files of the
    functions it calls.
    """
    from numba import njit

    try:
        made = njit(cache=True, nogil=True, error_model="numpy")(function)
    except RuntimeError:  # there is no folder that the code could be kept in
        made = njit(nogil=True, error_model="numpy")(function)
    return cast("Function", made)
