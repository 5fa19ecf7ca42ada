"""What holds for all tests: none sees the user's own bench or log, and CI has the same examples."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from soapstone.job.files import BENCH_VARIABLE
from soapstone.log.store import LOG_VARIABLE

settings.register_profile("house", deadline=None, derandomize="CI" in os.environ, print_blob=True)
settings.load_profile("house")


@pytest.fixture(autouse=True, scope="session")
def no_bench_of_the_users_own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Give the folder that stands in for the user's own, also for commands that tests start."""
    folder = tmp_path_factory.mktemp("home")
    with pytest.MonkeyPatch.context() as changed:
        changed.delenv(BENCH_VARIABLE, raising=False)
        changed.setenv(LOG_VARIABLE, str(folder / "log.sqlite"))
        for name in (
            "HOME",
            "USERPROFILE",
            "XDG_CONFIG_HOME",
            "XDG_DATA_HOME",
            "LOCALAPPDATA",
            "APPDATA",
        ):
            changed.setenv(name, str(folder))
        yield folder
