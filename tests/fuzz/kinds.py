"""Every kind of file that the tool reads."""

from . import changes, drawings, measured, patterns, scenarios, sofa, surveys

KINDS = {
    one.KIND.name: one.KIND
    for one in (scenarios, patterns, sofa, drawings, surveys, measured, changes)
}
