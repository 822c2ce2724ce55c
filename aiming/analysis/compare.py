"""Several scenarios, or the variants of one, solved to stand side by side."""

from collections.abc import Mapping

from ..results.case import Case
from ..scenario import variant
from ..scenario.scenario import Scenario
from .solve import NoPlacementError, solve

AS_IT_IS = "as in the file"


def compare(scenarios: Scenario | Mapping[str, Scenario]) -> tuple[Case, ...]:
    """Solve scenarios to compare them.

    Parameters
    ----------
    scenarios : Scenario or mapping of str to Scenario
        One scenario is compared with each of its variants; several, by the names to call them.

    Returns
    -------
    tuple of Case
        In the order given: `name`, `scenario`, `answer`; where no placement meets the limits
        `answer` is None and `refusal` says what each limit alone would have to become.

    Raises
    ------
    ScenarioError
        Where a variant's changes make no scenario.
    """
    if isinstance(scenarios, Scenario):
        scenarios = {
            AS_IT_IS: scenarios,
            **{one.name: variant(scenarios, one.name) for one in scenarios.variants},
        }
    return tuple(case_of(name, scenario) for name, scenario in scenarios.items())


def case_of(name: str, scenario: Scenario) -> Case:
    """One case, solved."""
    try:
        return Case(name, scenario, solve(scenario))
    except NoPlacementError as error:
        return Case(name, scenario, None, refusal=str(error))
