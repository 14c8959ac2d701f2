"""Plans an operation for a test by the functions that a form and a job file use."""

from core.operations.registry import PlanInput, plan_of, read_operation
from core.plan import Plan
from core.values.errors import FileError, PlanError
from core.values.fields import Problem, Table


def make_plan(plan_input: PlanInput) -> Plan:
    """Return the plan of an operation.

    Raises FileError with every problem of the parameters, or PlanError if the lathe cannot do the work.
    """
    problems: list[Problem] = []
    table = Table(plan_input.parameters, "", problems)
    parameters = read_operation(table, plan_input.lathe)
    if problems or parameters is None:
        raise FileError([str(problem) for problem in problems])
    plan = plan_of(table, parameters, plan_input.kind, plan_input.lathe, plan_input.material)
    if plan is None:
        raise PlanError(problems[0].message, field=problems[0].key)
    return plan
