"""The command line: one file a command, options and one call each."""

import os
import sys
from collections.abc import Sequence


def main(arguments: Sequence[str] | None = None) -> None:
    """Run a command and leave with its exit code: 0 sound, 1 fails a check, 2 wrong input."""
    sys.exit(run(sys.argv[1:] if arguments is None else arguments))


def run(arguments: Sequence[str]) -> int:
    """Run a command; whatever goes wrong ends in one line on stderr and never in a traceback."""
    from cyclopts import CycloptsError

    from soapstone.cli.app import app
    from soapstone.errors import SoapstoneError

    try:
        code = app(
            list(arguments), exit_on_error=False, print_error=False, result_action="return_value"
        )
        sys.stdout.flush()
    except CycloptsError as fault:
        return _wrong(f"{fault} (soapstone --help lists what there is)")
    except SoapstoneError as fault:
        return _wrong(str(fault))
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as fault:
        name = f"{fault.filename}: " if fault.filename else ""
        return _wrong(f"{name}{fault.strerror or fault}")
    except KeyboardInterrupt:
        return _wrong("stopped")
    except Exception as fault:
        if os.environ.get("SOAPSTONE_DEBUG"):
            raise
        kind = type(fault).__name__
        return _wrong(f"soapstone itself failed ({kind}: {fault}); nothing of yours was changed")
    return code if isinstance(code, int) else 0


def _wrong(text: str) -> int:
    line = " ".join(text.split())
    sys.stderr.write(f"soapstone: {line}\n".encode("utf-8", "replace").decode("utf-8"))
    return 2
