"""What a refusal has to look like; everything else that a reader may end in is a fault."""

import traceback
from pathlib import Path

from aiming.base.errors import AimingError, Fault, ScenarioError

LONGEST = 3000
"""Characters of one fault's text: a person has to read it."""


def complaint(error: BaseException, path: Path) -> str:
    """What is wrong with how a case was refused; "" where nothing is."""
    if not isinstance(error, AimingError):
        frames = traceback.extract_tb(error.__traceback__)
        ours = [one for one in frames if "/aiming/" in one.filename] or list(frames)
        where = f"{Path(ours[-1].filename).name}:{ours[-1].lineno}" if ours else "?"
        return f"{type(error).__name__} at {where}: {' '.join(str(error).split())[:200]}"
    text = str(error)
    if "MemoryError" in text or "Unable to allocate" in text:
        return f"memory ran out: {text[:200]}"
    told = [_untold(text)]
    if isinstance(error, ScenarioError):
        if not error.faults or len(text.split("\n")) != len(error.faults):
            return f"{len(error.faults)} faults in {len(text.splitlines())} lines"
        told += [_wrong(fault, path) for fault in error.faults]
    return next((one for one in told if one), "")


def _untold(text: str) -> str:
    """What keeps a text from being printed as it is."""
    if not text.strip():
        return "an empty message"
    try:
        text.encode()
    except UnicodeEncodeError:
        return f"no UTF-8: {ascii(text)[:200]}"
    odd = {one for one in text if not one.isprintable() and one != "\n"}
    return f"control characters {sorted(map(ord, odd))} in: {ascii(text)[:200]}" if odd else ""


def _wrong(fault: Fault, path: Path) -> str:
    """What is wrong with one fault: its form, its length, its place."""
    found, _, allowed = fault.message.partition("; ")
    if not (fault.file and found.strip() and allowed.strip()):
        return f'not of the form "found; allowed": {fault}'[:300]
    if len(str(fault)) > LONGEST:
        return f"{len(str(fault))} characters: {str(fault)[:200]}"
    if min(fault.line, fault.column) < 1:
        return f"no place: {fault}"[:300]
    if fault.file not in (path.name, str(path)) or (fault.line, fault.column) == (1, 1):
        return ""
    # In bytes, since a line may be no text; no character is shorter.  What a carriage return alone
    # ends is another matter in every kind of file.
    text = path.read_bytes().replace(b"\r\n", b"\n")
    for lines in (text.split(b"\n"), text.replace(b"\r", b"\n").split(b"\n")):
        if fault.line <= len(lines) and fault.column <= len(lines[fault.line - 1]) + 1:
            return ""
    return f"no such place: {fault}"[:300]
