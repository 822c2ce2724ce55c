"""What is written down of each caution: what brings it about, at which threshold, whose rule."""

from dataclasses import dataclass

from ..rigging.limits import Limit
from . import caution_limits as own

KEY_OF = {limit.code: key for key, limit in own.BY_KEY.items()}


@dataclass(frozen=True)
class Rule:
    """One caution.

    severity: as printed; "caution or stop" where the figure decides
    limit: the threshold, None where it is no figure
    basis: whose rule it is where there is no threshold
    """

    code: str
    severity: str
    trigger: str
    limit: Limit | None = None
    basis: str = "ours"

    @property
    def threshold_text(self) -> str:
        """ "0.1 of the weight", with the key that moves it."""
        if self.limit is None:
            return ""
        key = KEY_OF.get(self.limit.code)
        moved = f"; `{key}`" if key else ""
        return f"{self.limit.value:g} {self.limit.unit}{moved}"

    @property
    def status_text(self) -> str:
        """Published rule, common practice or ours, and the source."""
        if self.limit is None:
            return self.basis
        return f"{self.limit.kind}: {self.limit.source}"


BY_MOMENT = "ours: nothing that rests can push through a line or stand beyond its edge"
