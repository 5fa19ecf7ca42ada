"""Hold a job's tubes and rails against the rule sets that were chosen."""

from collections.abc import Sequence

from soapstone.check.codes.model import Checked, Guard, Rule, RuleSet, Ruling
from soapstone.check.codes.rails import RAILS, judge_guard
from soapstone.check.codes.tubes import BENT, GRIP, WHOLE
from soapstone.findings import Finding, Say

NO_RAIL = "a [[rail]] in the job that names the tubes and the floor"
NO_GRIP = "a [[rail]] with `grip = true` in the job"
NO_TUBES = "a tube that has a plan"


def judge(
    sets: Sequence[RuleSet], tubes: Sequence[Checked], guards: Sequence[Guard], say: Say
) -> tuple[Ruling, ...]:
    """Give a ruling for every rule and what it is about; one that nothing was there for says so."""
    every = (
        ruling
        for one in sets
        for rule in one.rules
        for ruling in _judge(one.name, rule, tubes, guards, say)
    )
    return tuple(dict.fromkeys(every))


def _judge(
    code: str, rule: Rule, tubes: Sequence[Checked], guards: Sequence[Guard], say: Say
) -> list[Ruling]:
    if rule.kind in RAILS:
        found = [ruling for guard in guards for ruling in judge_guard(code, rule, guard, say)]
        return found or [Ruling(code, rule, "job", "not checked", needs=NO_RAIL)]
    if rule.kind in GRIP:
        held = [tube for guard in guards if guard.grip for tube in guard.tubes]
        found = [GRIP[rule.kind](code, rule, tube, say) for tube in held]
        return found or [Ruling(code, rule, "job", "not checked", needs=NO_GRIP)]
    if rule.kind in BENT:
        found = [BENT[rule.kind](code, rule, tube, say) for tube in tubes if tube.plan.bends]
        return found or [Ruling(code, rule, "job", "not checked", needs="a tube with bends")]
    if rule.kind in WHOLE:
        found = [WHOLE[rule.kind](code, rule, tube, say) for tube in tubes]
        return found or [Ruling(code, rule, "job", "not checked", needs=NO_TUBES)]
    return [Ruling(code, rule, "job", "not checked", needs=rule.needs)]


def ruling_findings(rulings: Sequence[Ruling]) -> list[Finding]:
    """Give what fails and what was not checked as findings."""
    found = []
    for one in rulings:
        if one.status == "pass":
            continue
        where = f"{one.where}, {one.code}"
        asked = f"{one.rule.asks} ({one.rule.clause})"
        if one.status == "fail":
            found.append(Finding("stop", where, f"{one.found}; asked for is: {asked}"))
        else:
            said = f"; {one.found}" if one.found else ""
            found.append(
                Finding("warn", where, f"not checked: {asked}{said}", f"needs {one.needs}")
            )
    return found
