"""`soapstone check`: whether the tubes clear what is around them."""

from functools import partial
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console

from soapstone.check.codes.model import Ruling
from soapstone.cli.output import (
    FIRST_TIME,
    Json,
    emit,
    escape,
    patience,
    say_findings,
    table,
)
from soapstone.errors import InputError
from soapstone.flow.coding import CAUTION, codes_json
from soapstone.flow.fitting import CheckedJob, check_job
from soapstone.quantities import format_fine


def command(
    job: Path | None = None,
    /,
    *,
    code: Annotated[tuple[str, ...], Parameter(negative=())] = (),
    codes: bool = False,
    json: Json = False,
) -> int:
    """Certify the least gap of every tube to every keep-out, over all that swings.

    Leaves with 0 when every tube can be made, is clear and fails no rule asked for, else with 1.

    Parameters
    ----------
    job
        A job file (.toml).
    code
        Hold it against this rule set too, besides the `codes` of its file; may be given again.
    codes
        List the rule sets there are.
    """
    if codes:
        emit(codes_json, _show_codes, json)
        return 0
    if job is None:
        raise InputError("check: expected a job file, or --codes")
    with patience(FIRST_TIME):
        checked = check_job(job, code)
    emit(checked.as_json, lambda where: _show(where, checked), json)
    return 0 if checked.sound else 1


def _show(where: Console, checked: CheckedJob) -> None:
    say = partial(format_fine, units=checked.plan.job.units)
    rows = []
    for tube in checked.tubes:
        for gap in tube.gaps:
            hinges = ", ".join(f"{angle + 0.0:.1f}°" for angle in gap.angles)
            name = tube.plan.name if gap is tube.gaps[0] else ""
            place = f"{say(gap.along)} from A"
            rows.append((name, gap.keepout, say(gap.gap), say(gap.wanted), place, hinges))
    if rows:
        columns = ("tube", "keep-out", "gap", "wanted", "nearest at", "swung to")
        where.print(table("", columns, rows))
    for tube in checked.tubes:
        say_findings(where, tube.problems)
    if not checked.plan.job.keepouts:
        where.print("nothing to keep clear of in this job")
    if checked.rulings:
        _show_rulings(where, checked)
    if checked.sound:
        where.print("[bold]sound[/]: every tube can be made and keeps its distance")


def _show_rulings(where: Console, checked: CheckedJob) -> None:
    rows = [
        (one.code, one.where, f"{one.rule.asks} ({one.rule.clause})", one.status, _found(one))
        for one in checked.rulings
    ]
    where.print(table("", ("code", "of", "asked", "", "found"), rows))
    where.print(f"[dim]{escape(CAUTION)}[/]")


def _found(one: Ruling) -> str:
    needs = f"needs {one.needs}" if one.needs else ""
    return "; ".join(words for words in (one.found, needs) if words)


def _show_codes(where: Console) -> None:
    for one in codes_json()["codes"]:
        where.print(f"[bold]{escape(one['name'])}[/]  {escape(one['publication'])}: {one['about']}")
        for rule in one["rules"]:
            where.print(f"    {escape(rule['rule'])} [dim]({escape(rule['source'])})[/]")
    where.print(f"[dim]{escape(CAUTION)}[/]")
