"""The sound: rows in shadow, late reflections, grazing, near field, levels, the proof."""

from collections.abc import Iterator

import numpy as np

from ..analysis.tone_and_level import every_band, greatest_a_db, loudness_of
from ..base.bands import band_label, exact_midband_hz
from ..results.sound import Loudness
from ..scenario.scenario import Scenario
from ..scenario.thresholds import GRAZING, LATE, LATE_STRONG, SHADOW
from .declare import NOT_ASSUMED, OWN_WISH, Told, caution
from .facts import LOUDSPEAKER, SEARCHED, SECTION, SectionFacts, SpeakerFacts
from .place import which_rows


@caution("rows-in-shadow", "caution", LOUDSPEAKER, limit=SHADOW, for_rigger=False)
def rows_in_shadow(of: SpeakerFacts) -> Iterator[Told]:
    """A served row loses more than this behind floors or surfaces, mean over the design bands."""
    lost, least = of.rows.shadow_db.mean(axis=0), of.limit(SHADOW)
    hidden = [int(row) for row in of.at.served if lost[row] > least]
    if hidden:
        most = float(lost[hidden].max())
        yield Told(
            f"{which_rows(of.scenario.rows, hidden)} in the shadow of floors or surfaces, or at "
            f"its edge: up to {most:.1f} dB lost, mean over the design bands. They count in the "
            "figures. Where another loudspeaker is to serve them, give them a seating of their own "
            "and name it in `serves`",
            most,
        )


@caution("late-reflection", "caution", LOUDSPEAKER, limit=LATE_STRONG, for_rigger=False)
def late_reflection(of: SpeakerFacts) -> Iterator[Told]:
    """A surface's first reflection reaches a served row or a `[[point]]` later than `late_ms` (50
    ms: common practice, no source) and stronger than this against the direct sound.
    """
    scenario = of.scenario
    if not scenario.surfaces:
        return
    found = of.missing.paths
    level = found.level_db.mean(axis=0)
    heard = np.isin(found.point, of.at.served) | (found.point >= len(scenario.rows))
    strong = heard & (found.delay_ms >= of.limit(LATE)) & (level > of.limit(LATE_STRONG))
    # All rows are one group, each point is its own.
    group = np.where(found.point < len(scenario.rows), -1, found.point)
    pairs = zip(found.surface[strong].tolist(), group[strong].tolist(), strict=True)
    for surface, target in sorted(set(pairs)):
        those = np.flatnonzero(strong & (found.surface == surface) & (group == target))
        worst = int(those[np.argmax(level[those])])
        targets = len(set(found.point[those].tolist()))
        more = ""
        if targets > 1:
            more = f", and to {targets - 1} more row{'s' if targets > 2 else ''}"
        yield Told(
            f"{scenario.surfaces[surface].name} sends sound to "
            f"{of.missing.target_text(int(found.point[worst]))} {found.delay_ms[worst]:.0f} ms "
            f"after the direct sound, {abs(level[worst]):.1f} dB "
            f"{'softer' if level[worst] < 0.0 else 'louder'} than it{more}",
            float(level[worst]),
        )


@caution(
    "pattern-unknown", "caution", LOUDSPEAKER, unit="rows", basis=NOT_ASSUMED, for_rigger=False
)
def pattern_unknown(of: SpeakerFacts) -> Iterator[Told]:
    """Pattern data do not reach a row, served or not."""
    rows = of.scenario.rows
    unknown = np.isnan(of.rows.levels_db).any(axis=0)
    served = np.zeros(len(rows), dtype=np.bool_)
    served[of.at.served] = True
    for these, figures in (
        (unknown & served, "; figures over those rows are unknown"),
        (
            unknown & ~served,
            ", which it does not serve: its own figures stand, those of all loudspeakers together "
            "are unknown",
        ),
    ):
        if these.any():
            which = which_rows(rows, np.flatnonzero(these).tolist())
            yield Told(f"the pattern data do not reach {which}{figures}", float(these.sum()))


@caution("axis-off-audience", "caution", LOUDSPEAKER, for_rigger=False)
def axis_off_audience(of: SpeakerFacts) -> Iterator[Told]:
    """The axis meets no seating that is served."""
    if of.at.throw_m is None and of.scenario.aim.axis_on_audience:
        yield Told("the axis meets no audience plane that this loudspeaker serves")


@caution(
    "near-field",
    "caution",
    LOUDSPEAKER,
    unit="m",
    basis="a usual bound of the far field, no source",
    for_rigger=False,
)
def near_field(of: SpeakerFacts) -> Iterator[Told]:
    """A served row nearer than h²/2λ, h the cabinet's height, λ of the highest design band."""
    cabinet, scenario = of.at.speaker.cabinet, of.scenario
    height = cabinet.height_m if cabinet else None
    if height is None:
        return
    highest = max(scenario.aim.bands_hz)
    wavelength = scenario.air.speed_of_sound_m_s / exact_midband_hz(highest)
    far = height**2 / (2.0 * wavelength)
    place, rows = of.at.placement, of.at.problem.rows
    nearest = float(np.hypot(rows.x_m - place.x_m, rows.z_m - place.height_m).min())
    if nearest < far:
        yield Told(
            f"the nearest row is {of.length(nearest)} away; the far field of a "
            f"{of.length(height)} high box at {band_label(highest)} begins at "
            f"{of.length(far)}: the level there is less certain",
            nearest,
            far,
        )


@caution("grazing", "caution", LOUDSPEAKER, limit=GRAZING, for_rigger=False)
def grazing(of: SpeakerFacts) -> Iterator[Told]:
    """A served row sees the loudspeaker at less than this to its own audience plane."""
    rows, place, planes = of.at.problem.rows, of.at.placement, of.at.problem.planes
    x = rows.x_m[:, np.newaxis]
    on = (planes.seating == rows.seating[:, np.newaxis]) & (planes.start_m[:, 0] <= x)
    piece = np.argmax(on & (x <= planes.end_m[:, 0]), axis=1)
    run, climb = (planes.end_m - planes.start_m)[piece].T
    slope = np.arctan2(np.where(run > 0.0, climb, 0.0), np.where(run > 0.0, run, 1.0))
    seen = np.arctan2(place.height_m - rows.z_m, rows.x_m - place.x_m)
    angles = np.degrees(np.abs(seen + slope))
    row = int(np.argmin(angles))
    if angles[row] < of.limit(GRAZING):
        yield Told(
            f"the sound grazes the audience, at {angles[row]:.1f}° at {rows.label(row)}: heads in "
            "front shadow the rows behind at high frequencies, which is not in these figures",
            float(angles[row]),
        )


@caution("proof-capped", "caution", SEARCHED, for_rigger=False)
def proof_capped(of: SpeakerFacts) -> Iterator[Told]:
    """The search stopped at its cap before the gap was proven."""
    if of.searched is not None and of.searched.capped:
        yield Told(
            "the search was stopped before the best was proven as closely as asked; the gap shown "
            "is what is left"
        )


# The level wanted, and the level allowed.


@caution("target-not-checked", "note", LOUDSPEAKER, basis=NOT_ASSUMED, for_rigger=False)
def target_not_checked(of: SpeakerFacts) -> Iterator[Told]:
    """`target_db` is given, but a loudspeaker's `max_level_db` is not."""
    wanted = of.scenario.programme
    if wanted and wanted.target_db is not None and of.at.speaker.max_level_db is None:
        yield Told(
            f"whether {wanted.target_db:g} dB is reached was not checked: no greatest level is "
            "given"
        )


def _loudness(of: SpeakerFacts) -> Loudness | None:
    if of.scenario.programme is None:
        return None
    every = every_band(of.scenario, of.at.speaker, of.at.placement)
    return loudness_of(of.scenario, of.at, every)


@caution("target-out-of-reach", "caution", LOUDSPEAKER, unit="dB", basis=OWN_WISH, for_rigger=False)
def target_out_of_reach(of: SpeakerFacts) -> Iterator[Told]:
    """Driven to `max_level_db`, the programme is softer at a served row than `target_db`."""
    found = _loudness(of)
    if found is None or found.greatest is None or found.target_db is None:
        return
    headroom, softest = found.greatest.headroom_db, found.greatest.softest
    if headroom is not None and softest is not None and headroom < 0.0:
        level = softest.level_db
        yield Told(
            f"at its greatest level it gives {level:.1f} dB ({found.weighting}-weighted, "
            f"{found.programme}) at {of.scenario.rows.label(softest.row)}: {-headroom:.1f} dB less "
            f"than the {found.target_db:g} dB wanted",
            headroom,
        )


@caution("bands-left-out", "note", LOUDSPEAKER, basis=NOT_ASSUMED, for_rigger=False)
def bands_left_out(of: SpeakerFacts) -> Iterator[Told]:
    """A programme is named, but in one of its bands pattern or output is not known."""
    found = _loudness(of)
    if found is not None and found.missing_hz:
        bands = ", ".join(band_label(band) for band in found.missing_hz)
        yield Told(
            f"pattern or output is not known at {bands}: the levels of {found.programme} leave "
            "those bands out"
        )


@caution("level-not-checked", "caution", SECTION, unit="dB", basis=NOT_ASSUMED, for_rigger=False)
def level_not_checked(of: SectionFacts) -> Iterator[Told]:
    """A level limit is named, but a loudspeaker's `max_level_db` is not given."""
    limit, where = of.scenario.cautions.level_limit_db, of.scenario.cautions.level_limit_name
    lacking = [name for name, level in _greatest_a_db(of) if level is None]
    if limit is not None and lacking:
        yield Told(
            f"the level limit {limit:g} dB ({where}) was not checked: no greatest level is given "
            f"for {', '.join(lacking)}",
            limit=limit,
        )


def _greatest_a_db(of: SectionFacts) -> list[tuple[str, np.ndarray | None]]:
    """By loudspeaker its greatest A-weighted level at every row, where a limit is named."""
    if of.scenario.cautions.level_limit_db is None:
        return []
    return [
        (at.speaker.name, greatest_a_db(of.scenario, at.speaker, at.placement)) for at in of.placed
    ]


@caution("level-over-limit", "caution", SECTION, unit="dB", basis=OWN_WISH, for_rigger=False)
def level_over_limit(of: SectionFacts) -> Iterator[Told]:
    """The programme, pink noise unless named, at the greatest output stated, A-weighted, is louder
    at a row than `level_limit_db`; `level_limit_name` says where that holds; none is built in.
    """
    limit, where = of.scenario.cautions.level_limit_db, of.scenario.cautions.level_limit_name
    levels = [level for _, level in _greatest_a_db(of) if level is not None]
    if limit is None or len(levels) < len(of.placed):
        return
    energy = np.asarray(sum(10.0 ** (level / 10.0) for level in levels))
    if np.isnan(energy).any():
        return  # said already: the pattern's data do not reach every row
    row = int(np.argmax(energy))
    loudest = float(10.0 * np.log10(energy[row]))
    if loudest > limit:
        yield Told(
            f"{_programme(of.scenario)} at the greatest level stated gives {loudest:.1f} dB, "
            f"A-weighted, at {of.scenario.rows.label(row)}: over {limit:g} dB ({where})",
            loudest,
            limit,
        )


def _programme(scenario: Scenario) -> str:
    name = scenario.programme.spectrum if scenario.programme else "pink"
    return "pink noise" if name == "pink" else name
