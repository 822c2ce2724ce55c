"""Files of measurements as the tests write them, and what is said of one that is refused."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from aiming.base.errors import ScenarioError

HEAD = "position,frequency_hz,level_db\n"


def written(folder: Path, text: str, name: str = "m.csv") -> Path:
    """The file, its bytes as given."""
    path = folder / name
    path.write_bytes(text.encode())
    return path


def refused(call: Callable[..., object], *given: Any, **options: Any) -> list[str]:
    """The faults that a call ends with."""
    with pytest.raises(ScenarioError) as caught:
        call(*given, **options)
    return [str(fault) for fault in caught.value.faults]
