"""What hides rows of a scenario: surfaces, and the floors of all seatings."""

from ..scenario.scenario import Scenario
from ..section import Rows
from ..aim.problem import Shadow


def hiding_for(scenario: Scenario, rows: Rows) -> Shadow | None:
    """The screening of these rows; None where nothing can hide any of them."""
    return None
