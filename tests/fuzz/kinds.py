"""Every kind of file that the tool reads."""

import hashlib

from . import changes, drawings, measured, patterns, scenarios, sofa, surveys
from .case import chance_of

KINDS = {
    one.KIND.name: one.KIND
    for one in (scenarios, patterns, sofa, drawings, surveys, measured, changes)
}


def fingerprint(cases: int) -> str:
    """Tells whether the first cases of every kind are the same as elsewhere."""
    found = hashlib.sha256()
    for name, kind in KINDS.items():
        for number in range(cases):
            case = kind.make(chance_of(name, 1, number))
            found.update(case.data + repr(sorted(case.options.items())).encode())
    return found.hexdigest()
