"""What a user asks for, read into mm, or refused in one line."""

from soapstone.errors import InputError
from soapstone.plan.model import TubePlan, Unplanned
from soapstone.quantities import parse_length
from soapstone.textfiles import one_line


def length_asked(text: str, units: str, option: str) -> float:
    """Read a length above 0 that was given for an option; a bare number is in `units`.

    Raises
    ------
    InputError
        It is no length, or none above 0; one line names the option.
    """
    try:
        length = parse_length(text, units)
    except ValueError as error:
        raise InputError(f"{option}: {error}") from None
    if length <= 0:
        raise InputError(f"{option}: expected a length above 0")
    return length


def needs_plan(tube: TubePlan | Unplanned, where: str) -> TubePlan:
    """Give a tube's plan.

    Raises
    ------
    InputError
        It has none; one line names `where`, and says why.
    """
    if isinstance(tube, TubePlan):
        return tube
    why = "; ".join(map(str, tube.problems)) or f'tube "{tube.name}" has no shape yet'
    raise InputError(one_line(f"{where}: {why}"))
