"""What is worked out while the hand rests, in a process of its own so that the hand stays free.

`python -m aiming.live.rest` reads one question a line and answers each with a line of JSON.  The
first stage, "whole", is the answer of `solve` to the file's own gap, with map, loads and cautions;
the second, "explained", says what limits it and what else could be chosen.
"""

import json
import signal
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

from ..base.errors import AimingError

Question = dict[str, Any]
MAP_POINTS = 90
"""Of the level map along its longer side: enough for tones of 3 dB, and fresh at once."""
PROVE_S = 0.5
"""How long the proof of several loudspeakers together may take before the page is told; the file's
own comes with the last stage."""
INTERRUPT: signal.Signals | None = getattr(signal, "SIGUSR1", None)
"""Ends what is being worked out."""


def _line(told: dict[str, Any]) -> bytes:
    return json.dumps(told).encode() + b"\n"


OVERTAKEN = _line({"overtaken": True})
"""The reply to a question that was interrupted."""


class Resting:
    """The other process: at most one question in it, and only the newest waits.

    A question that is overtaken is dropped at once, so that neither the hand nor the next question
    waits for it; where the system cannot interrupt, it is worked out to its end and forgotten.
    """

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._turn = threading.Lock()
        self._newest = 0
        self._ready = self._working = False
        self._count = threading.Lock()

    def start(self) -> None:
        """Begin loading, so that the first question need not wait."""
        self._ready = False
        self._process = subprocess.Popen(
            [sys.executable, "-m", "aiming.live.rest"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )

    def asked(self, question: Question) -> bytes | None:
        """The answer as JSON; None where a newer question came meanwhile."""
        own = self.overtaken()
        with self._turn:
            if self._process is None or self._process.poll() is not None:
                self.start()
            process = self._process
            assert process is not None and process.stdin is not None and process.stdout is not None
            try:
                if not self._ready:
                    self._ready = bool(process.stdout.readline())
                line = OVERTAKEN
                # An interruption may come as late as in the question after the one it was meant
                # for: that is asked again.
                while line == OVERTAKEN:
                    with self._count:
                        if own != self._newest:
                            return None
                        process.stdin.write(_line(question))
                        process.stdin.flush()
                        self._working = True
                    line = process.stdout.readline()
            except OSError:
                line = b""
            finally:
                with self._count:
                    self._working = False
            if not line:
                self.stop()
                return b'{"fault": "the full answer could not be worked out"}'
        return line if own == self._newest else None

    def overtaken(self) -> int:
        """What is being worked out is no longer wanted; the number of what comes next."""
        with self._count:
            self._newest += 1
            if self._working and self._process is not None and INTERRUPT is not None:
                self._process.send_signal(INTERRUPT)
            return self._newest

    def stop(self) -> None:
        """End the process."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            for stream in (self._process.stdin, self._process.stdout):
                if stream is not None:
                    stream.close()
            self._process = None


# In the other process.


def answered(question: Question) -> dict[str, Any]:
    """One stage of the answer of a document, as plain values."""
    from ..analysis.solve import NoPlacementError, solve
    from ..files.toml_text import Source
    from ..scenario.read import of_source

    source = Source(
        file=question["file"],
        folder=Path(question["folder"]),
        text=question["text"],
        document=question["document"],
        places={},
    )
    try:
        scenario = of_source(source)
        try:
            explained = question["stage"] == "explained"
            answer = solve(scenario, choices=explained, prove_s=None if explained else PROVE_S)
        except NoPlacementError as none:
            return {"none": str(none)}
        if question["stage"] == "explained":
            return _explained(answer)
        return _whole(answer)
    except AimingError as error:
        return {"fault": str(error)}


def _whole(answer: Any) -> dict[str, Any]:
    from ..analysis.section_map import level_map, shadow_lines
    from ..report.page.view import cautions_view, map_view, view_of
    from .hand import settings_of

    shadows = shadow_lines(answer)
    levels = level_map(answer, extent=_with_ranges(answer), points=MAP_POINTS)
    return {
        "settings": settings_of(answer),
        "proof": proof_text(answer),
        "view": view_of(answer, shadows),
        "map": map_view(answer.curves.mean_db, levels),
        "cautions": cautions_view(answer),
        "stopped": answer.stopped,
    }


def _with_ranges(answer: Any) -> Any:
    """What the answer shows and where its loudspeakers may hang, which the page shows too."""
    from ..results.section import Extent

    shown, hangs = answer.extent, [one.hang for one in answer.scenario.speakers]
    return Extent(
        x_from=min(shown.x_from, *(of.x_m[0] for of in hangs)),
        x_to=max(shown.x_to, *(of.x_m[1] for of in hangs)),
        z_from=shown.z_from,
        z_to=max(shown.z_to, *(of.vertical_m[1] + 1.0 for of in hangs)),
    )


def proof_text(answer: Any) -> str:
    """What is proven of the whole answer, in a few words."""
    if len(answer.speakers) == 1:
        gap = answer.speakers[0].gap_db
        return "" if gap is None else f"proven within {max(0.01, gap):.2f} dB"
    proof = answer.together.proof
    if proof is None:
        return ""
    if proof.gap_db is not None and proof.gap_db <= answer.scenario.aim.gap_db:
        return f"all proven within {max(0.01, proof.gap_db):.2f} dB"
    return f"each by itself proven within {max(0.01, proof.each_alone_gap_db):.2f} dB"


def _explained(answer: Any) -> dict[str, Any]:
    from ..analysis.complete import complete
    from ..report.page.view import view_of
    from ..report.text.summary import summary_text
    from ..results.answer import needed

    whole = complete(answer, ("explanation", "section"))
    return {
        "proof": proof_text(whole),
        "view": view_of(whole, needed(whole.section, "section").shadows),
        "words": summary_text(whole),
        "choices": _choices(answer),
    }


def _choices(answer: Any) -> list[dict[str, Any]]:
    """What else could be decided, each as edits that make it so; the one taken needs none."""
    from ..report.text.words import db_text

    several = len(answer.speakers) > 1
    return [
        {
            "text": f"{_whose(one.speaker) if several else ''}{one.name}: {db_text(one.spread_db)}",
            "edits": [
                {"edit": "set", "key": key, "value": value} for key, value in one.set.items()
            ],
        }
        for one in answer.choices
        if one.set
    ]


def _whose(speaker: str | None) -> str:
    """ "main: "; nothing before a choice about all of them."""
    return "" if speaker is None else f"{speaker}: "


class Overtaken(BaseException):
    """What is being worked out is no longer wanted."""


def main() -> None:
    """Answer questions until there are none."""
    # Loaded before the first question comes.
    from ..analysis import sensitivity, solve
    from ..report.page import view

    del sensitivity, solve, view
    working = False

    def interrupted(_signal: int, _frame: object) -> None:
        nonlocal working
        if working:
            working = False  # once is enough
            raise Overtaken

    if INTERRUPT is not None:
        signal.signal(INTERRUPT, interrupted)
    _reply(_line({"ready": True}))
    for line in sys.stdin.buffer:
        try:
            working = True
            reply = _line(answered(json.loads(line)))
            working = False
        except Overtaken:
            reply = OVERTAKEN
        except Exception as error:
            # A fault of this program must not leave the page waiting.
            told = f"a fault of this program: {type(error).__name__}: {error}"
            reply = _line({"fault": told})
        working = False
        _reply(reply)


def _reply(line: bytes) -> None:
    sys.stdout.buffer.write(line)
    sys.stdout.buffer.flush()


if __name__ == "__main__":
    main()
