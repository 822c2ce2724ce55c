"""What is worked out while the hand rests: dropped once overtaken, and then at work again."""

import json
import signal
import subprocess
import sys
import threading

import pytest
from paths import ROOT

from aiming.live.rest import INTERRUPT, Resting
from aiming.scenario.read import load


def question(name: str, stage: str) -> dict[str, object]:
    scenario = load(ROOT / "scenarios" / name)
    return {
        "file": scenario.file,
        "folder": str(scenario.folder),
        "text": scenario.text,
        "document": scenario.document,
        "stage": stage,
    }


def told(run: "subprocess.Popen[bytes]") -> dict[str, object]:
    assert run.stdout is not None
    made: dict[str, object] = json.loads(run.stdout.readline())
    return made


@pytest.mark.parametrize("stage", ["whole", "explained"])
def test_what_is_overtaken_is_dropped_and_the_next_is_answered(stage: str) -> None:
    assert INTERRUPT == signal.SIGUSR1
    command = [sys.executable, "-m", "aiming.live.rest"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as run:
        assert run.stdin is not None
        assert told(run) == {"ready": True}
        # With nothing in work it changes nothing.
        run.send_signal(INTERRUPT)
        run.stdin.write(json.dumps(question("field_with_delays.toml", stage)).encode() + b"\n")
        run.stdin.flush()
        found: list[dict[str, object]] = []
        reading = threading.Thread(target=lambda: found.append(told(run)))
        reading.start()
        while reading.is_alive():
            reading.join(0.05)
            run.send_signal(INTERRUPT)
        assert found == [{"overtaken": True}]
        # A signal may come late, and end the next question: the page's side asks that again.
        answer: dict[str, object] = {"overtaken": True}
        while answer == {"overtaken": True}:
            run.stdin.write(json.dumps(question("quarry.toml", "whole")).encode() + b"\n")
            run.stdin.flush()
            answer = told(run)
        assert "settings" in answer
        run.stdin.close()


def test_an_interruption_that_comes_late_does_not_end_the_newest_question() -> None:
    resting = Resting()
    resting.start()
    found: list[bytes | None] = []
    asking = threading.Thread(
        target=lambda: found.append(resting.asked(question("field_with_delays.toml", "whole")))
    )
    asking.start()
    while not resting._working:
        asking.join(0.01)
    assert resting._process is not None and INTERRUPT is not None
    asking.join(0.3)
    resting._process.send_signal(INTERRUPT)
    asking.join()
    answer = found[0]
    assert answer is not None and "settings" in json.loads(answer)
    resting.stop()


def test_only_the_newest_question_is_answered() -> None:
    resting = Resting()
    found: list[bytes | None] = []
    slow = question("field_with_delays.toml", "explained")
    asking = threading.Thread(target=lambda: found.append(resting.asked(slow)))
    asking.start()
    answer = resting.asked(question("quarry.toml", "whole"))
    asking.join()
    assert found == [None] and answer is not None and "settings" in json.loads(answer)
    resting.stop()
