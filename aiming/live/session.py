"""One section under edit: its document, its past and future, and what is told to the page.

Every change is tried before it is kept: a document that has faults is not taken, so what stands is
always a scenario.  The newest question is answered; what comes late from an older page, or in the
wrong order, is refused.
"""

import secrets
from dataclasses import replace
from typing import Any

import numpy as np

from ..analysis.section_map import shadow_lines
from ..analysis.solve import NoPlacementError
from ..base.errors import AimingError, ScenarioError
from ..report.page.view import house_view, range_view, view_of
from ..scenario.address import copied
from ..scenario.read import of_document
from ..scenario.scenario import Scenario
from ..speaker.pattern import Pattern
from .edits import Document, EditError, edited, speaker_index, vertical_key
from .hand import HAND_GAP_DB, InHand, Memo, Rested, answer_in_hand
from .keeping import Journal, Keeping

MOST_EDITS = 50
"""Edits in one question; a drag sends one or two."""
_RANGES = ("x", "height", "trim", "tilt")
_Ranges = dict[tuple[str, str], Any]
"""What a loudspeaker's key was before it was pinned by hand."""


class Session:
    """What the page talks to.  Methods are called with the lock held, one at a time."""

    def __init__(self, scenario: Scenario, keeping: Keeping) -> None:
        self.keeping = keeping
        self._memo = Memo()
        self._rested: Rested | None = None
        self._page, self._sequence = "", -1
        self._held: object = None
        self._ranges: _Ranges = {}
        self._past: list[tuple[Document, _Ranges]] = []
        self._future: list[tuple[Document, _Ranges]] = []
        self._scenario = scenario
        self._journal = Journal(keeping)

    # ---- pages and questions ---------------------------------------------

    def begin(self) -> dict[str, Any]:
        """A page was opened; earlier ones are told so at their next question."""
        self._page, self._sequence = secrets.token_urlsafe(9), -1
        self._held = None
        return {
            "page": self._page,
            "file": self.keeping.shown,
            "found": self._journal.found() is not None,
            **self._told(),
        }

    def mine(self, body: dict[str, Any]) -> bool:
        """Whether the question comes from the page that was opened last."""
        return bool(self._page) and body.get("page") == self._page

    def newer(self, body: dict[str, Any]) -> bool:
        """Whether this question is newer than the last."""
        number = body.get("number")
        if not isinstance(number, int) or isinstance(number, bool) or number <= self._sequence:
            return False
        self._sequence = number
        return True

    @property
    def number(self) -> int:
        """The newest question's number."""
        return self._sequence

    @property
    def scenario(self) -> Scenario:
        """As it stands."""
        return self._scenario

    # ---- changes ---------------------------------------------------------

    def change(self, body: dict[str, Any]) -> dict[str, Any]:
        """Make the edits, and solve: one that cannot be made changes nothing."""
        edits, held = body.get("edits", []), body.get("held")
        if not isinstance(edits, list) or len(edits) > MOST_EDITS:
            raise EditError("a list of edits")
        if edits:
            made, ranges, fault = self._scenario, dict(self._ranges), None
            document = made.document
            for edit in edits:
                if not isinstance(edit, dict):
                    raise EditError("a list of edits")
                document = self._edited(made, document, edit, ranges)
                # Edits that only fit together may have faults between them.
                try:
                    made, fault = _checked(made, document), None
                except EditError as told:
                    fault = told
            if fault is not None:
                raise fault
            # What one drag does is undone in one step.
            if held is None or held != self._held:
                self._remember()
            self._scenario, self._ranges = made, ranges
            self._journal.later(made.document)
        self._held = held
        return self._told(in_hand=held is not None)

    def _edited(
        self,
        scenario: Scenario,
        document: Document,
        edit: dict[str, Any],
        ranges: _Ranges,
    ) -> Document:
        kind = edit.get("edit")
        if kind == "give back":
            return self._given_back(document, edit, ranges)
        if kind in ("pin", "turn"):
            # What it was is kept, so that one press gives it back.
            index = speaker_index(document, edit.get("speaker"))
            placement = document["speaker"][index].get("placement", {})
            name = str(edit.get("speaker"))
            keys = ("x", vertical_key(placement)) if kind == "pin" else ("tilt",)
            was = {key: placement.get(key) for key in keys if key is not None}
            # A tilt that is not said is a range as well.
            if was.get("tilt", 0.0) is None or any(isinstance(of, list) for of in was.values()):
                ranges |= {(name, key): copied(value) for key, value in was.items()}
        return edited(scenario, document, edit)

    @staticmethod
    def _given_back(document: Document, edit: dict[str, Any], ranges: _Ranges) -> Document:
        name = str(edit.get("speaker"))
        index = speaker_index(document, name)
        result = copied(document)
        placement = result["speaker"][index].setdefault("placement", {})
        for key in _RANGES:
            if (name, key) in ranges:
                placement[key] = ranges.pop((name, key))
                if placement[key] is None:
                    del placement[key]
        return dict(result)

    def step(self, by: int, *, held: object = None) -> dict[str, Any]:
        """Undo (−1) or redo (1); held: only where that drag did something."""
        if held is not None and held != self._held:
            return self._told()
        here, there = (self._past, self._future) if by < 0 else (self._future, self._past)
        if here:
            there.append((self._scenario.document, self._ranges))
            document, self._ranges = here.pop()
            self._scenario = of_document(self._scenario, document)
            self._held = None
            self._journal.later(document)
        return self._told()

    def replace_document(self, document: Document) -> dict[str, Any]:
        """Another document in this one's place, undone like any change.  Raises ScenarioError."""
        scenario = of_document(self._scenario, document)
        self._remember()
        self._scenario = scenario
        self._journal.later(document)
        return self._told()

    def _remember(self) -> None:
        """What stands can be undone to."""
        self._past.append((self._scenario.document, self._ranges))
        self._future.clear()

    # ---- what is told ----------------------------------------------------

    def _told(self, *, in_hand: bool = False) -> dict[str, Any]:
        scenario = self._scenario
        told: dict[str, Any] = {"number": self._sequence}
        if not in_hand:
            told |= {
                "document": scenario.document,
                "undo": len(self._past),
                "redo": len(self._future),
                "unsaved": self.keeping.differs(scenario.document),
                "pinned": self._pinned(),
            }
        try:
            found = answer_in_hand(scenario, self._memo, self._rested)
        except NoPlacementError as none:
            told["none"] = {"speaker": none.speaker, "house": house_view(scenario)}
            told["none"]["ranges"] = {one.name: range_view(one.hang) for one in scenario.speakers}
            return told
        if self._rested is not None:
            self._rested = self._rested.moved(found.answer)
        told["view"] = view_of(found.answer, shadow_lines(found.answer))
        told["proof"] = _proof_text(found)
        return told

    def rested(self, settings: dict[str, list[float]]) -> None:
        """Where all loudspeakers are set once everything is worked out to its end."""
        self._rested = Rested.at(self._scenario, settings)

    def _pinned(self) -> list[str]:
        """Loudspeakers that could be given a range back."""
        placements = {
            one["name"]: one.get("placement", {}) for one in self._scenario.document["speaker"]
        }
        return sorted(
            {
                name
                for (name, key), was in self._ranges.items()
                if name in placements and placements[name].get(key) != was
            }
        )

    def question(self) -> dict[str, Any]:
        """What the other process is asked for the full answer."""
        return {
            "file": self._scenario.file,
            "folder": str(self._scenario.folder),
            "text": self._scenario.text,
            "document": self._scenario.document,
        }

    # ---- keeping ---------------------------------------------------------

    def save(self, *, how: str) -> dict[str, Any]:
        """Write the file; how: "save", "mine" over a changed file, "beside" it, or "theirs"."""
        if how == "theirs":
            scenario = self.keeping.theirs()
            self._remember()
            self._scenario = scenario
            self._journal.done(self._journal.path)
            return {"saved": None, "file": self.keeping.shown, **self._told()}
        # Saved beside it the file has another name, and the journal of the first is to go.
        journal = self._journal.path
        result = self.keeping.save(self._scenario, how=how)
        if result.get("saved"):
            self._scenario = replace(self._scenario, text=self.keeping.text)
            self._journal.done(journal)
        return {**result, "unsaved": self.keeping.differs(self._scenario.document)}

    def found(self, *, take: bool) -> dict[str, Any]:
        """What a journal of an earlier run holds: take it, or let it go."""
        document = self._journal.found()
        self._journal.answered()
        if document is None:
            return self._told()
        if take:
            return self.replace_document(document)
        if self.keeping.differs(self._scenario.document):
            self._journal.later(self._scenario.document)
        else:
            self._journal.done(self._journal.path)
        return self._told()

    def leave(self) -> None:
        """The end: what is not saved stays in the journal."""
        self._journal.stop()


def _checked(scenario: Scenario, document: Document) -> Scenario:
    """The scenario of a document.  Raises EditError with what is wrong, key by key."""
    try:
        return _sharing(scenario, of_document(scenario, document))
    except ScenarioError as error:
        text = "; ".join(f"{one.key}: {one.message}" for one in error.faults[:3])
        raise EditError(text) from None
    except AimingError as error:
        raise EditError(str(error)) from None


def _proof_text(found: InHand) -> str:
    """What is proven while something is held."""
    if len(found.answer.speakers) == 1:
        gap = found.answer.speakers[0].gap_db
        return "" if gap is None else f"proven within {HAND_GAP_DB:g} dB"
    if found.gap_db is None:
        return "aimed together when the hand rests"
    return f"{found.anew[0]} proven within {HAND_GAP_DB:g} dB, the others kept"


_HOUSE = ("units", "drawing_units", "seating", "surface")


def _sharing(before: Scenario, now: Scenario) -> Scenario:
    """The same scenario, what has not changed being the very objects that were there before.

    What was worked out about a house or a pattern is kept by object.
    """

    def same(*keys: str) -> bool:
        return all(before.document.get(key) == now.document.get(key) for key in keys)

    if same(*_HOUSE):
        now = replace(now, seatings=before.seatings, rows=before.rows, surfaces=before.surfaces)
    had = {one.name: one.pattern for one in before.speakers}
    speakers = [
        replace(one, pattern=had[one.name])
        if one.name in had and _alike(one.pattern, had[one.name])
        else one
        for one in now.speakers
    ]
    return replace(now, speakers=tuple(speakers))


def _alike(one: Pattern, other: Pattern) -> bool:
    return (
        (one.band_hz, one.reference) == (other.band_hz, other.reference)
        and np.array_equal(one.angle_deg, other.angle_deg)
        and np.array_equal(one.level_db, other.level_db, equal_nan=True)
    )
