"""Keys that exclude or need one another: placements, patterns, bands, sources of a line."""

from collections.abc import Iterator

from ...base.bands import DEFAULT_DESIGN_HZ, OCTAVES_HZ, THIRDS_HZ, band_key
from ...base.errors import found_text
from ...base.units import parse_tilt_deg
from ...files.toml_places import Path
from ..models.speaker import PatternModel
from .raw import Problem, Raw, Table, number, table_in, tables_in

LENGTH_RANGES = ("x", "height", "trim")


def choice_rules(raw: Raw) -> Iterator[Problem]:
    """What must be given once, or not together."""
    for path, seating in raw.tables("seating"):
        yield from _one_of(path, seating, ("line", "drawing", "survey"))
        if "rows" in seating and "row_spacing" in seating:
            yield (*path, "row_spacing"), "both rows and row_spacing; one of them"
    for path, surface in raw.tables("surface"):
        yield from _one_of(path, surface, ("line", "drawing"))
    bands = _design_bands(raw)
    yield from _band_rules(raw)
    for path, speaker in raw.tables("speaker"):
        yield from _placement((*path, "placement"), speaker, raw)
        yield from _gain(path, speaker)
        yield from _pattern((*path, "pattern"), speaker)
        yield from _held(path, speaker, raw)
        yield from _body(path, speaker)
        output = table_in(speaker, "output")
        for key in ("sensitivity_db", "max_level_db"):
            lacking = [
                band_key(band) for band in bands if band_key(band) not in table_in(output, key)
            ]
            if isinstance(output.get(key), dict) and lacking:
                yield (
                    (*path, "output", key),
                    f"no value for {', '.join(lacking)} Hz; one for every design band, "
                    "or one number",
                )


def _one_of(path: Path, table: Table, keys: tuple[str, ...]) -> Iterator[Problem]:
    given = [key for key in keys if table.get(key) is not None]
    if not given:
        yield (*path, keys[0]), f"missing; one of {', '.join(keys)}"
    elif len(given) > 1:
        yield (*path, given[-1]), f"{' and '.join(given)}; one of them"


def _design_bands(raw: Raw) -> list[float]:
    given = table_in(raw.document, "aim").get("bands", list(DEFAULT_DESIGN_HZ))
    return [band for band in given if band in THIRDS_HZ] if isinstance(given, list) else []


def _band_rules(raw: Raw) -> Iterator[Problem]:
    aim = table_in(raw.document, "aim")
    design = _design_bands(raw)
    octaves = bool(design) and all(band in OCTAVES_HZ for band in design)
    for key in ("bands", "tone_bands"):
        given = aim.get(key)
        seen: list[object] = []
        for position, band in enumerate(given if isinstance(given, list) else []):
            if band in seen and number(band) is not None:
                yield ("aim", key, position), f"{found_text(band)} again; each band once"
            elif key == "tone_bands" and octaves and band in THIRDS_HZ and band not in OCTAVES_HZ:
                yield (
                    ("aim", key, position),
                    f"{band_key(band)}, a third octave; an octave mid-band, as the design bands "
                    "are octaves",
                )
            seen.append(band)


def _gain(path: Path, speaker: Table) -> Iterator[Problem]:
    gain = speaker.get("gain_db")
    ends = [number(end) for end in gain] if isinstance(gain, list) else []
    if len(ends) == 2 and ends[0] is not None and ends[1] is not None and ends[0] > ends[1]:
        shown = ", ".join(found_text(end) for end in ends)
        yield (*path, "gain_db"), f"[{shown}]; [low, high] with low not above high"


def _placement(path: Path, speaker: Table, raw: Raw) -> Iterator[Problem]:
    if not isinstance(speaker.get("placement"), dict) or speaker.get("hung_under") is not None:
        return
    placement = speaker["placement"]
    for key in LENGTH_RANGES:
        yield from _reversed((*path, key), placement.get(key), raw)
    tilt = placement.get("tilt")
    if isinstance(tilt, list) and len(tilt) == 2:
        low, high = _tilt(tilt[0]), _tilt(tilt[1])
        if low is not None and high is not None and low > high:
            shown = ", ".join(found_text(end) for end in tilt)
            yield (*path, "tilt"), f"[{shown}]; [low, high] with low not above high"
    given = [key for key in ("height", "trim", "base") if placement.get(key) is not None]
    stacked = placement.get("mount") == "stacked"
    if "trim" in given and len(given) > 1:
        yield (*path, "trim"), f"{' and '.join(given)}; one of them"
    elif stacked and "trim" in given:
        yield (*path, "trim"), "a trim for a stack; base, the top of what it stands on, or height"
    elif not stacked and "base" in given:
        yield (*path, "base"), 'a base without mount = "stacked"; height or trim'
    elif given == ["base"] and all(
        table_in(speaker, "cabinet").get(key) is None for key in ("outline", "height")
    ):
        yield (*path, "base"), "base alone; base and the cabinet's outline, or a height"
    elif not given:
        allowed = "base or height" if stacked else "height or trim"
        yield (*path, "height"), f"missing; {allowed}"
    yield from _orientation(path, placement, speaker)


def _tilt(value: object) -> float | None:
    try:
        return parse_tilt_deg(value) if isinstance(value, str) else number(value)
    except ValueError:
        return None


_ONE_MASS = ("mass_kg", "mass")
_ONE_OF_RIGGING = (
    ("extra_mass_kg", "extra_mass"),
    ("hoist_mass_kg", "hoist_mass"),
    ("cable_mass_kg", "cable_mass"),
    ("structure_capacity_kn", "structure_capacity"),
)


def _body(path: Path, speaker: Table) -> Iterator[Problem]:
    """Masses and limits given once; a box by height and depth, both, and no outline beside."""
    cabinet = table_in(speaker, "cabinet")
    here = (*path, "cabinet")
    yield from _at_most_one(here, cabinet, _ONE_MASS)
    for pick_path, pick in tables_in(cabinet.get("picks"), (*here, "picks")):
        yield from _at_most_one(pick_path, pick, ("wll_kg", "wll_kn", "wll"))
    yield from _at_most_one(here, cabinet, ("outline", "height"))
    yield from _at_most_one(here, cabinet, ("outline", "depth"))
    for one, other in (("height", "depth"), ("depth", "height")):
        if all(cabinet.get(key) is None for key in (other, "outline")) and cabinet.get(one):
            yield (*here, one), f"{one} without {other}; both, or an outline"
    for orientation in ("upright", "flipped"):
        held = table_in(table_in(speaker, "rigging"), orientation)
        there = (*path, "rigging", orientation)
        for pair in _ONE_OF_RIGGING:
            yield from _at_most_one(there, held, pair)
        if isinstance(held.get("below"), dict):
            yield from _one_of((*there, "below"), held["below"], _ONE_MASS)
    also = table_in(speaker, "stack").get("also")
    for also_path, other_box in tables_in(also, (*path, "stack", "also")):
        yield from _one_of(also_path, other_box, _ONE_MASS)


def _at_most_one(path: Path, table: Table, keys: tuple[str, ...]) -> Iterator[Problem]:
    given = [key for key in keys if table.get(key) is not None]
    if len(given) > 1:
        yield (*path, given[-1]), f"both {' and '.join(given)}; one of them"


def _held(path: Path, speaker: Table, raw: Raw) -> Iterator[Problem]:
    """Keys of the rigging that say the same thing two ways, and a bar's reversed range."""
    for orientation in ("upright", "flipped"):
        held = table_in(table_in(speaker, "rigging"), orientation)
        here = (*path, "rigging", orientation)
        for one, other in (("holes", "bar"), ("pull_elevation_deg", "pulling_point")):
            if held.get(one) is not None and held.get(other) is not None:
                yield (*here, other), f"both {one} and {other}; one of them"
        yield from _reversed((*here, "bar"), held.get("bar"), raw)


def _reversed(path: Path, value: object, raw: Raw) -> Iterator[Problem]:
    ends = raw.point(value)
    if ends is not None and ends[0] > ends[1] and isinstance(value, list):
        shown = ", ".join(found_text(end) for end in value)
        yield path, f"[{shown}]; [low, high] with low not above high"


def _orientation(path: Path, placement: Table, speaker: Table) -> Iterator[Problem]:
    """Once any rigging is given, an orientation without one cannot be flown."""
    declared = [key for key in ("upright", "flipped") if key in table_in(speaker, "rigging")]
    wanted = placement.get("orientation", "upright")
    if placement.get("mount", "flown") != "flown" or not declared or wanted == "either":
        return
    if wanted in ("upright", "flipped") and wanted not in declared:
        yield (
            (*path, "orientation"),
            f"{found_text(wanted)}, but rigging is given for {declared[0]} alone; "
            f'rigging.{wanted} too, or "{declared[0]}"',
        )


def _pattern(path: Path, speaker: Table) -> Iterator[Problem]:
    if not isinstance(speaker.get("pattern"), dict):
        return
    pattern = speaker["pattern"]
    coverage = pattern.get("coverage")
    if pattern.get("file") is not None:
        for key in PatternModel.rivals["file"]:
            if pattern.get(key) is not None:
                yield (*path, key), f"{key} beside a pattern file; one of them"
        return
    if pattern.get("control_from_hz") is not None and pattern.get("control_height") is not None:
        yield (*path, "control_height"), "both control_from_hz and control_height; one of them"
    if coverage is None:
        yield (*path, "coverage"), "missing; coverage or file"
    if pattern.get("lobe") != "piston":
        return
    whole = number(coverage)
    halves = {} if whole is None else {"coverage": whole / 2.0}
    if isinstance(coverage, dict):
        halves = {side: half for side in coverage if (half := number(coverage[side])) is not None}
    for key, half in halves.items():
        if 90.0 < half < 180.0:
            here = (*path, "coverage") if key == "coverage" else (*path, "coverage", key)
            yield here, f"half-angle {half:g}° of a piston; at most 90°"
