"""The whole job, stage by stage: the only place that wires the stages together.

Commands, pages and tests call the functions here. Read `plan_job` in `flow/planning.py` first: it
is the main road, from a job file to a plan. `packing` prints a plan, `learning` calibrates,
`converting` turns files into others, `showing` looks at the bench, and `demonstrating` does the
whole demo job.
"""

from soapstone.flow.planning import JobPlan, plan, plan_job

__all__ = ["JobPlan", "plan", "plan_job"]
