"""What a user asks for on the command line, read into mm."""

from soapstone.errors import InputError
from soapstone.quantities import parse_length


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
