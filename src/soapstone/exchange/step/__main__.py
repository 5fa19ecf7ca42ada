"""Read a STEP file in a process of its own, as `apart` asks: which file, and where to answer."""

import sys
from pathlib import Path

from soapstone.errors import InputError
from soapstone.exchange.step.packed import pack
from soapstone.exchange.step.reading import bodies


def main() -> int:
    """Read and pack; a refusal goes to stderr as one line."""
    source, target = map(Path, sys.argv[1:3])
    try:
        target.write_bytes(pack(bodies(source)))
    except InputError as error:
        sys.stderr.buffer.write(str(error).encode())
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
