"""The command line: one file a command, options and one call each."""

import os
import sys
from collections.abc import Sequence


def main(arguments: Sequence[str] | None = None) -> None:
    """Run a command and leave with its exit code: 0 sound, 1 fails a check, 2 wrong input."""
    sys.exit(run(sys.argv[1:] if arguments is None else arguments))


def run(arguments: Sequence[str]) -> int:
    """Run a command; whatever goes wrong ends in one line on stderr and never in a traceback."""
    from soapstone.cli.app import app

    try:
        code = app(
            list(arguments), exit_on_error=False, print_error=False, result_action="return_value"
        )
        sys.stdout.flush()
    except BrokenPipeError:  # the reader had enough, such as head
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except (Exception, KeyboardInterrupt) as fault:
        if os.environ.get("SOAPSTONE_DEBUG"):
            raise
        line = " ".join(_in_words(fault).split())
        sys.stderr.write(f"soapstone: {line}\n".encode("utf-8", "replace").decode("utf-8"))
        return 2
    return code if isinstance(code, int) else 0


def _in_words(fault: BaseException) -> str:
    """Say what went wrong, and where a file is at fault, which."""
    from cyclopts import CycloptsError

    from soapstone.errors import SoapstoneError

    if isinstance(fault, CycloptsError):
        return f"{fault} (soapstone --help lists what there is)"
    if isinstance(fault, SoapstoneError):
        return str(fault)
    if isinstance(fault, KeyboardInterrupt):
        return "stopped"
    if isinstance(fault, OSError) and fault.strerror:
        return f"{fault.filename}: {fault.strerror}" if fault.filename else fault.strerror
    kind = type(fault).__name__
    return f"soapstone itself failed ({kind}: {fault}); nothing of yours was changed"
