"""What holds one loudspeaker where it is placed."""

from dataclasses import dataclass

from ..rigging.body import has_bar
from ..rigging.ground_stack import Stability
from ..rigging.lines import Hook
from ..rigging.loads import Loads
from ..speaker.rigging import Rigging
from ..speaker.speaker import Speaker


@dataclass(frozen=True, eq=False)
class Support:
    """What holds one loudspeaker at its placement, worked out once; everything else reads it.

    rigging: of this orientation, None where none is declared or where it stands
    hooks: where the lines hold the box; known without mass or centre of gravity
    loads: None where they could not be computed: not_checked says what is missing,
        refused why the forces cannot be found
    stack: of one that stands
    """

    speaker: Speaker
    flipped: bool
    tilt_deg: float
    at_m: tuple[float, float]
    rigging: Rigging | None = None
    hooks: tuple[Hook, ...] = ()
    loads: Loads | None = None
    stack: Stability | None = None
    not_checked: str = ""
    refused: str = ""

    @property
    def flown(self) -> bool:
        """Whether it hangs."""
        return self.speaker.hang.mount == "flown"

    @property
    def on_bar(self) -> bool:
        """Whether one line holds it by a bar, so that its picks are not where the line is."""
        return (
            self.rigging is not None
            and self.rigging.method == "one point"
            and has_bar(self.rigging)
        )
