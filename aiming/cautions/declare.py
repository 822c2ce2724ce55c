"""How a caution is declared: once, with everything that is known about it.

A caution is a generator function of some facts.  One decorator names its code, its severity, what
has to be known for it to be asked, what it is held against and whose rule that is:

    @caution("low-headroom", "caution", OUTLINED, limit=HEADROOM)
    def low_headroom(of: SpeakerFacts) -> Iterator[Told]:
        # docstring: Less room than this under a flown cabinet.
        ...
        yield Told("the cabinet hangs ...", room_m)

The docstring says what brings it about; a second paragraph is for readers of the code.  It yields
a `Told` each time it has something to say.  What an answer prints, docs/cautions.md and the tests
come from `DECLARED`, topic by topic.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Protocol

from ..base.limit import Limit
from ..results.answer import Caution, Severity
from ..scenario.scenario import Scenario
from ..scenario.thresholds import BY_KEY, threshold

NOT_ASSUMED = "ours: what is missing is never assumed"
BALANCE = "equilibrium in a plane"
LIKELY_SLIP = "ours: likely a slip in the file"
OWN_WISH = "the user's own"
COMMON = "common practice, no source"


class _Declared:
    """Stands for the declared threshold where a caution names no other."""


AS_DECLARED = _Declared()


@dataclass(frozen=True)
class Told:
    """One thing to say: the sentence, and its figure.

    value: in the declared unit, or in `unit`; None where there is no figure
    limit: what it was held against, where that is not the declared threshold
    severity: where the caution is declared with several
    speaker: where it is about another loudspeaker than the one that was asked about
    """

    text: str
    value: float | None = None
    limit: float | _Declared | None = AS_DECLARED
    unit: str | None = None
    severity: Severity | None = None
    speaker: str | None = None


class Facts(Protocol):
    """What a caution is told of.  speaker_name: None where it is about the whole section."""

    @property
    def scenario(self) -> Scenario | None: ...

    @property
    def speaker_name(self) -> str | None: ...


@dataclass(frozen=True)
class Need:
    """What has to be known for a caution to be asked: in words, of which facts, and the test."""

    text: str
    of: type
    met: Callable[[Any], bool]


@dataclass(frozen=True)
class Declaration:
    """Everything about one caution.

    severities: the usual one first
    when: what brings it about
    basis: whose rule it is, where there is no threshold
    for_rigger: whether whoever hangs the box can do something about it
    topic: the module that declares it
    """

    topic: str
    code: str
    severities: tuple[Severity, ...]
    when: str
    limit: Limit | None = None
    basis: str = "ours"
    unit: str | None = None
    needs: Need | None = None
    for_rigger: bool = True
    says: Callable[[Any], Iterator[Told]] | None = None

    def made(self, told: Told, of: Facts | None = None) -> Caution:
        """The caution of the answer."""
        severity = told.severity or self.severities[0]
        assert severity in self.severities, (self.code, severity)
        limit = told.limit
        if isinstance(limit, _Declared):
            limit = self._threshold(None if of is None else of.scenario)
        unit = told.unit or self.unit or (None if self.limit is None else self.limit.mark)
        return Caution(
            code=self.code,
            severity=severity,
            text=told.text,
            value=told.value,
            unit=None if told.value is None and limit is None else unit,
            limit=limit,
            speaker=told.speaker or (None if of is None else of.speaker_name),
        )

    def _threshold(self, scenario: Scenario | None) -> float | None:
        if self.limit is None:
            return None
        return self.limit.value if scenario is None else threshold(scenario, self.limit)

    @property
    def threshold_text(self) -> str:
        """ "0.1 of the weight", with the key that moves it."""
        if self.limit is None:
            return ""
        moved = f"; `{self.limit.code}`" if self.limit.code in BY_KEY else ""
        return f"{self.limit.value:g} {self.limit.unit}{moved}"

    @property
    def source_text(self) -> str:
        """Published rule, common practice or ours, and the source."""
        return self.basis if self.limit is None else self.limit.basis


DECLARED: dict[str, Declaration] = {}
"""Every caution there is, by its code, once its topic file is imported."""


def declare(
    topic: str, code: str, severity: Severity, when: str, *, basis: str = "ours"
) -> Declaration:
    """A caution that another room brings about."""
    assert code not in DECLARED, code
    DECLARED[code] = Declaration(topic, code, (severity,), when, basis=basis)
    return DECLARED[code]


def caution(
    code: str,
    severity: Severity | tuple[Severity, ...],
    needs: Need,
    *,
    limit: Limit | None = None,
    basis: str = "ours",
    unit: str | None = None,
    for_rigger: bool = True,
    when: str = "",
) -> Callable[[Callable[[Any], Iterator[Told]]], Callable[[Any], Iterator[Told]]]:
    """Declare the caution that the function below speaks for.

    when: instead of a docstring, where several cautions share one function
    """

    def of(says: Callable[[Any], Iterator[Told]]) -> Callable[[Any], Iterator[Told]]:
        assert code not in DECLARED, code
        severities = severity if isinstance(severity, tuple) else (severity,)
        told = when or " ".join((says.__doc__ or "").partition("\n\n")[0].split())
        DECLARED[code] = Declaration(
            says.__module__, code, severities, told, limit, basis, unit, needs, for_rigger, says
        )
        return says

    return of


def told_of(of: Facts, among: Iterable[Declaration]) -> Iterator[Caution]:
    """Everything that these declared cautions have to say of the facts, in their order."""
    for one in among:
        if one.says is None or one.needs is None or not isinstance(of, one.needs.of):
            continue
        if one.needs.met(of):
            for told in one.says(of):
                yield one.made(told, of)
