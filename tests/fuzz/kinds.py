"""Every kind of file that the tool reads."""

import hashlib

from . import changes, drawings, measured, patterns, scenarios, sofa, surveys
from .case import chance_of

KINDS = {
    one.KIND.name: one.KIND
    for one in (scenarios, patterns, sofa, drawings, surveys, measured, changes)
}


def fingerprint(numbers: range) -> str:
    """Tells whether cases of every kind are the same as elsewhere, in whatever order made."""
    found = []
    for name, kind in KINDS.items():
        for number in numbers:
            case = kind.make(chance_of(name, 1, number))
            told = case.data + repr(sorted(case.options.items())).encode()
            found.append(hashlib.sha256(told).hexdigest())
    return hashlib.sha256("".join(sorted(found)).encode()).hexdigest()
