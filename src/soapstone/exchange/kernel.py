"""The Open CASCADE kernel, an extra: what to say where it is missing, and how to keep it quiet."""

from soapstone.errors import InputError


def kernel_missing() -> InputError:
    """Give the error for a machine without the kernel."""
    return InputError(
        'STEP files need the extra "step": install soapstone[step], or choose .glb or .dxf'
    )


def hush() -> None:
    """Keep the kernel from telling of its work on stdout, where only answers go."""
    from OCP.Message import Message

    told = Message.DefaultMessenger_s()
    for printer in list(told.Printers()):
        told.RemovePrinter(printer)
