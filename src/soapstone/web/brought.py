"""Files of tubes that are brought to the page of jobs: each a new job, once it reads and plans."""

import tempfile
from pathlib import Path

from soapstone.errors import InputError
from soapstone.flow.new_from_file import TAKEN, AskedOfFile, NewJob, new_job_from
from soapstone.textfiles import one_line
from soapstone.web.shop import RESERVED, Shop, plain_name


def bring_in(shop: Shop, named: str, data: bytes, asked: AskedOfFile) -> tuple[str, NewJob]:
    """Make a job of a file, and give the name it got in the shop; nothing is written over.

    Raises
    ------
    InputError
        One line that names the file as it was sent; nothing is kept then.
    """
    given = Path(named.replace("\\", "/")).name
    suffix = Path(given).suffix.lower()
    if suffix not in TAKEN:
        raise InputError(one_line(f"{given[:60]}: expected a file ending in {', '.join(TAKEN)}"))
    stem = plain_name(Path(given).stem)
    if not stem or stem.split(".")[0].lower() in RESERVED:
        stem = f"drawing {stem}".strip()
    with tempfile.TemporaryDirectory() as place:
        trial = Path(place) / f"{stem}{suffix}"
        trial.write_bytes(data)
        try:
            new = new_job_from(trial, shop.folder, asked)
        except (InputError, ValueError) as error:
            said = str(error)
            for path in (trial, shop.folder / trial.name):
                said = said.replace(str(path), given[:60])
            raise InputError(one_line(said)) from None
    return shop.add(stem, new.text), new
