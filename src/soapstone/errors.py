"""What soapstone raises; a user's wrong data ends in one of these, with a line to show."""


class SoapstoneError(Exception):
    """Base of all that soapstone raises on purpose; its text is fit to show to a user."""


class InputError(SoapstoneError):
    """A file or a value given by the user is wrong: the text names where, and what is expected."""
