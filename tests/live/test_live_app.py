"""What the page begins with, chosen when starting, and what it has written in another process."""

import shutil
import time
from pathlib import Path

from paths import ROOT

from aiming.live.app import Export, Live, Start
from aiming.scenario import load

PATTERN = {"speaker.main.pattern.file": "box.csv"}


def house(folder: Path) -> Path:
    shutil.copy(ROOT / "scenarios" / "patterns" / "invented_horn_60.csv", folder / "box.csv")
    return Path(shutil.copy(ROOT / "scenarios" / "quarry.toml", folder / "hall.toml"))


def test_a_pattern_file_is_chosen_when_starting(tmp_path: Path) -> None:
    path = house(tmp_path)
    before = path.read_text(encoding="utf-8")
    live = Live([], first=Start("hall", path, changes=PATTERN))
    status, told = live.answer("begin", {})
    assert status == 200 and b'"unsaved":true' in told and b'"file":"box.csv"' in told
    assert path.read_text(encoding="utf-8") == before
    page = live._held()._page
    assert b'"saved":"hall.toml"' in live.answer("save", {"page": page, "how": "save"})[1]
    live.close()
    after = path.read_text(encoding="utf-8")
    assert load(path).document["speaker"][0]["pattern"] == {"file": "box.csv"}
    comments = [line for line in before.splitlines() if line.startswith("#")]
    assert comments == [line for line in after.splitlines() if line.startswith("#")]


def stages(export: Export) -> list[str]:
    """As they follow each other, to the end."""
    seen: list[str] = []
    while (stage := export.stage) is not None:
        if not seen or seen[-1] != stage:
            seen.append(stage)
        time.sleep(0.005)
    return seen


def test_drawings_are_written_with_their_stages_told(tmp_path: Path) -> None:
    path = house(tmp_path)
    export = Export(path, tmp_path / "hall")
    assert stages(export) == ["solving", "drawing"]
    assert export.ended() == "Written into the folder hall."
    names = {one.name for one in (tmp_path / "hall").iterdir()}
    assert {"hang_sheet.pdf", "answer.json", "aim.html"} <= names


def test_what_cannot_be_written_is_told(tmp_path: Path) -> None:
    path = house(tmp_path)
    (tmp_path / "hall").mkdir()
    (tmp_path / "hall" / "mine.txt").write_text("mine", encoding="utf-8")
    export = Export(path, tmp_path / "hall")
    stages(export)
    assert export.ended().startswith("Not written: ")
    assert [one.name for one in (tmp_path / "hall").iterdir()] == ["mine.txt"]
