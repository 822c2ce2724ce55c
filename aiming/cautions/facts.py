"""What a caution may look at, and what has to be known for it to be asked."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..aim.search import SearchResult
from ..analysis.placed_speaker import Placed
from ..analysis.reflections import Missing
from ..base.arrays import FloatArray
from ..base.limit import Limit
from ..base.units import length_text
from ..results.answer import Answer, SpeakerAnswer, SpeakerRows
from ..results.groups import Match
from ..results.support import Support
from ..rigging.bridle import Bridle
from ..rigging.ground_stack import Stability
from ..rigging.loads import Loads
from ..scenario.scenario import Scenario
from ..scenario.thresholds import threshold
from ..speaker.cabinet import turned_m
from ..speaker.rigging import Rigging
from .declare import Need


@dataclass(frozen=True)
class Searched:
    """How one loudspeaker's search ended.

    beyond: the best if the rigging held every tilt, where that is better
    capped: whether the search stopped at its cap
    """

    best: SearchResult
    beyond: SearchResult | None = None
    capped: bool = False


class _InScenario:
    """Says lengths in the scenario's unit, and knows its own thresholds."""

    scenario: Scenario

    def length(self, length_m: float) -> str:
        """A length as people read it."""
        return length_text(length_m, self.scenario.units)

    def limit(self, limit: Limit) -> float:
        """What a figure is held against here."""
        return threshold(self.scenario, limit)


@dataclass(frozen=True, eq=False)
class SectionFacts(_InScenario):
    """The whole section: all loudspeakers where they are placed, and their answer."""

    scenario: Scenario
    placed: tuple[Placed, ...]
    answer: Answer

    speaker_name: None = None


@dataclass(frozen=True, eq=False)
class SpeakerFacts(_InScenario):
    """One loudspeaker where it is placed; searched: None where nothing was."""

    scenario: Scenario
    at: Placed
    held: Support
    answer: Answer
    searched: Searched | None = None

    @property
    def speaker_name(self) -> str:
        return self.at.speaker.name

    @cached_property
    def mine(self) -> SpeakerAnswer:
        """Its own part of the answer."""
        return next(one for one in self.answer.speakers if one.name == self.speaker_name)

    @property
    def rows(self) -> SpeakerRows:
        """What it gives at every row."""
        return self.answer.rows.by_speaker[self.speaker_name]

    @cached_property
    def missing(self) -> Missing:
        """The sound of it that misses the rows, and comes back."""
        return Missing(self.scenario, self.at.speaker, self.at.placement, self.rows.shadow_db)

    @property
    def hung_under(self) -> bool:
        return self.speaker_name in self.scenario.company.hung_under

    @property
    def loads(self) -> Loads:
        assert self.held.loads is not None
        return self.held.loads

    @property
    def rigging(self) -> Rigging:
        assert self.held.rigging is not None
        return self.held.rigging

    @property
    def stack(self) -> Stability:
        assert self.held.stack is not None
        return self.held.stack

    @property
    def match(self) -> Match:
        assert self.mine.match is not None
        return self.mine.match

    @property
    def after_main_ms(self) -> FloatArray:
        assert self.rows.after_main_ms is not None
        return self.rows.after_main_ms

    @property
    def re_main_db(self) -> FloatArray:
        assert self.rows.re_main_db is not None
        return self.rows.re_main_db

    @cached_property
    def corners_m(self) -> FloatArray | None:
        """(n, 2) x, z of the outline as it is placed; None without one."""
        cabinet, held = self.held.speaker.cabinet, self.held
        if cabinet is None or cabinet.outline_m is None:
            return None
        turned = turned_m(cabinet.outline_m, tilt_deg=held.tilt_deg, flipped=held.flipped)
        return np.asarray(turned + np.array(held.at_m))


@dataclass(frozen=True)
class BridleFacts:
    """A bridle by itself."""

    bridle: Bridle

    scenario: None = None
    speaker_name: None = None


def _fills(of: SpeakerFacts) -> bool:
    known = of.rows.after_main_ms is not None and of.rows.re_main_db is not None
    return of.mine.match is not None and of.speaker_name in of.scenario.company.fills and known


def _hangs(of: SpeakerFacts) -> bool:
    return of.held.flown and not of.hung_under


SECTION = Need("", SectionFacts, lambda _: True)
LOUDSPEAKER = Need("", SpeakerFacts, lambda _: True)
SUPPORTED = Need("what holds it is its own", SpeakerFacts, lambda of: not of.hung_under)
HANGS = Need("it hangs from its own points", SpeakerFacts, _hangs)
RIGGED = Need(
    "it hangs, rigging declared",
    SpeakerFacts,
    lambda of: _hangs(of) and of.held.rigging is not None,
)
LOADED = Need("its loads are known", SpeakerFacts, lambda of: _hangs(of) and bool(of.held.loads))
STANDS = Need("it stands", SpeakerFacts, lambda of: not of.held.flown and not of.hung_under)
STACKED = Need(
    "it stands, mass and outline known",
    SpeakerFacts,
    lambda of: not of.held.flown and of.held.stack is not None,
)
OUTLINED = Need("its outline is known", SpeakerFacts, lambda of: of.corners_m is not None)
FILLS = Need("it fills for another", SpeakerFacts, _fills)
SEARCHED = Need("it was searched for", SpeakerFacts, lambda of: of.searched is not None)
BRIDLE = Need("`aiming bridle`", BridleFacts, lambda _: True)
