"""Run a command in this process and look at what a user and a script would see."""

import contextlib
import io
import json
from dataclasses import dataclass

from soapstone.cli import run


@dataclass(frozen=True)
class Outcome:
    """Exit code and what was written."""

    code: int
    out: str
    err: str

    @property
    def json(self):
        """The one JSON object on stdout."""
        return json.loads(self.out)


def soapstone(*arguments) -> Outcome:
    """Run `soapstone` with these arguments."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = run([str(argument) for argument in arguments])
    return Outcome(code, out.getvalue(), err.getvalue())


def is_clean(outcome: Outcome) -> bool:
    """Whether a run ended as every run must: 0, 1 or 2, one line on stderr for 2, no traceback."""
    broken = "Traceback" in outcome.err or "itself failed" in outcome.err
    if outcome.code == 2:
        return not broken and outcome.out == "" and outcome.err.count("\n") == 1
    return not broken and outcome.code in (0, 1)
