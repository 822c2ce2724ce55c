"""Sense: what no house, box or setting has, and which slip of unit, sign or order it likely is."""

from collections.abc import Callable, Iterator

import numpy as np

from ..base.arrays import FloatArray
from ..base.limit import Limit
from ..base.units import FOOT_M, mass_text, tilt_text
from ..geometry.section import Seating
from ..rigging.ground_stack import centre_outside_outline
from ..scenario import thresholds as limits
from ..scenario.scenario import Scenario
from .declare import LIKELY_SLIP, Told, caution
from .facts import LOUDSPEAKER, RIGGED, SECTION, STANDS, SectionFacts, SpeakerFacts

DATUM_UNNAMED = "datum"
HOTTEST_C, COLDEST_C, DRIEST_PERCENT = 45.0, -25.0, 5.0
LEAST_KPA, MOST_KPA = 60.0, 110.0
STRONGEST_WIND_M_S = 45.0
LEAST_SENSITIVITY_DB, MOST_SENSITIVITY_DB = 70.0, 120.0
LEAST_MAXIMUM_DB, MOST_MAXIMUM_DB = 90.0, 155.0
NARROWEST_DEG, WIDEST_DEG = 8.0, 150.0
LOWEST_CONTROL_HZ = 100.0
SHALLOWEST_LOBE_DB = -10.0
LOOSEST_GAP_DB, LOWERED_MOST_DB = 1.0, 3.0
MOST_WEIGHT = 20.0
_NEARLY_DEG = 2.0


def _too_large(of: SectionFacts | SpeakerFacts) -> str:
    """Which other unit a length was likely meant in."""
    feet = of.scenario.units == "ft"
    return "inches or metres read as feet?" if feet else "feet or mm read as m?"


def _too_small(of: SectionFacts | SpeakerFacts) -> str:
    return "metres read as feet?" if of.scenario.units == "ft" else "km or feet read as m?"


# The house.


def _of_seating(
    code: str,
    limit: Limit,
    when: str,
    length_m: Callable[[Seating], float | None],
    said: str,
    *,
    least: bool = False,
) -> None:
    """Declare what is said of a seating's length over a limit, or under it; in said, {} is it."""

    @caution(code, "caution", SECTION, limit=limit, for_rigger=False, when=when)
    def says(of: SectionFacts) -> Iterator[Told]:
        for seating in of.scenario.seatings:
            length, end = length_m(seating), of.limit(limit)
            if length is not None and (length < end if least else length > end):
                told, slip = of.length(length), _too_small(of) if least else _too_large(of)
                yield Told(f"seating {seating.name}: {said.format(told)}: {slip}", length)


def _spacing_m(seating: Seating) -> float | None:
    return seating.run_m / seating.intervals if seating.intervals else None


def _ears_m(seating: Seating) -> float:
    return seating.ear_height_m


_of_seating(
    "rows-far-apart", limits.WIDEST_ROW, "Rows of a seating farther apart than this.",
    _spacing_m, "rows {} apart, as no seats are",
)  # fmt: skip
_of_seating(
    "rows-close", limits.NARROWEST_ROW, "Rows of a seating closer than this.",
    _spacing_m, "rows {} apart, closer than any seats", least=True,
)  # fmt: skip
_of_seating(
    "ears-high", limits.HIGHEST_EARS, "Ears higher over their floor than this.",
    _ears_m, "ears {} over the floor",
)  # fmt: skip
_of_seating(
    "ears-low", limits.LOWEST_EARS, "Ears lower over their floor than this.",
    _ears_m, "ears {} over the floor", least=True,
)  # fmt: skip


@caution("rake-steep", "caution", SECTION, limit=limits.STEEPEST_RAKE, for_rigger=False)
def rake_steep(of: SectionFacts) -> Iterator[Told]:
    """A floor from its first row to its last steeper than this."""
    for seating in of.scenario.seatings:
        rise = float(seating.floor_m[-1, 1] - seating.floor_m[0, 1])
        steep = float(np.degrees(np.arctan2(abs(rise), seating.run_m)))
        if steep > of.limit(limits.STEEPEST_RAKE):
            yield Told(
                f"seating {seating.name}: its floor climbs {steep:.0f}°, steeper than any seats: "
                "x and z changed over, or a height in another unit?",
                steep,
            )


@caution("floor-falls", "caution", SECTION, limit=limits.FALLING_FLOOR, for_rigger=False)
def floor_falls(of: SectionFacts) -> Iterator[Told]:
    """A floor lower at its last row than at its first by more than this."""
    for seating in of.scenario.seatings:
        fall = float(seating.floor_m[0, 1] - seating.floor_m[-1, 1])
        if fall > of.limit(limits.FALLING_FLOOR):
            yield Told(
                f"seating {seating.name}: its last row lies {of.length(fall)} lower than its "
                "first: a sign lost, or the line given from the back?",
                fall,
            )


@caution("datum-unnamed", "note", SECTION, basis=LIKELY_SLIP)
def datum_unnamed(of: SectionFacts) -> Iterator[Told]:
    """`[datum]` has no name."""
    if of.scenario.datum == DATUM_UNNAMED:
        yield Told(
            "the datum has no name: say in [datum] what x = 0, z = 0 is, since every height on "
            "paper is from there"
        )


@caution("surface-buried", "caution", SECTION, limit=limits.BURIED, for_rigger=False)
def surface_buried(of: SectionFacts) -> Iterator[Told]:
    """A whole surface lies lower than every floor over it by more than this."""
    scenario = of.scenario
    for surface in scenario.surfaces:
        depths = [
            _floor_beneath_m(scenario, float(x)) - float(z)
            for x, z in surface.line_m
            if any(at.floor_m[0, 0] <= x <= at.floor_m[-1, 0] for at in scenario.seatings)
        ]
        depth = min(depths) if len(depths) == len(surface.line_m) else 0.0
        if depth > of.limit(limits.BURIED):
            under = f"{of.length(depth)} under the floor there"
            yield Told(f"surface {surface.name} lies {under}: {_too_small(of)}", depth)


@caution("reference-far", "caution", SECTION, limit=limits.FARTHEST_REFERENCE, for_rigger=False)
def reference_far(of: SectionFacts) -> Iterator[Told]:
    """`[time] reference` is farther than this from the nearest row."""
    reference = of.scenario.company.reference_m
    if reference is None:
        return
    rows = of.scenario.rows
    near = float(np.hypot(rows.x_m - reference[0], rows.z_m - reference[1]).min())
    if near > of.limit(limits.FARTHEST_REFERENCE):
        yield Told(
            f"time's reference lies {of.length(near)} from the nearest row: {_too_large(of)}", near
        )


@caution("target-low", "caution", SECTION, limit=limits.LOWEST_TARGET, for_rigger=False)
def target_low(of: SectionFacts) -> Iterator[Told]:
    """`[programme] target_db` is lower than this."""
    programme = of.scenario.programme
    target = None if programme is None else programme.target_db
    if target is not None and target < of.limit(limits.LOWEST_TARGET):
        yield Told(
            f"a level of {target:g} dB is wanted, as soft as a quiet room: a digit too few?", target
        )


@caution("weight-odd", "caution", SECTION, basis=LIKELY_SLIP, unit="times", for_rigger=False)
def weight_odd(of: SectionFacts) -> Iterator[Told]:
    """One seating weighs more than 20 times another."""
    weights = [seating.weight for seating in of.scenario.seatings if seating.weight > 0.0]
    ratio = max(weights, default=1.0) / min(weights, default=1.0)
    if ratio > MOST_WEIGHT or max(weights, default=1.0) > MOST_WEIGHT:
        yield Told("a seating's weight is over 20 times that of others: a slip?", ratio)


@caution("air-odd", "caution", SECTION, basis=LIKELY_SLIP, for_rigger=False)
def air_odd(of: SectionFacts) -> Iterator[Told]:
    """Air over 45 °C or under −25 °C, drier than 5 %, or outside 60 to 110 kPa."""
    air = of.scenario.air
    if not COLDEST_C <= air.temperature_c <= HOTTEST_C:
        yield Told(
            f"the air is at {air.temperature_c:g} °C: °F or K read as °C?",
            air.temperature_c,
            unit="°C",
            limit=HOTTEST_C if air.temperature_c > 0.0 else COLDEST_C,
        )
    if air.humidity_percent < DRIEST_PERCENT:
        yield Told(
            f"the humidity is {air.humidity_percent:g} %: a share read as per cent?",
            air.humidity_percent,
            unit="%",
            limit=DRIEST_PERCENT,
        )
    if not LEAST_KPA <= air.pressure_kpa <= MOST_KPA:
        yield Told(
            f"the pressure is {air.pressure_kpa:g} kPa: hPa, bar or atmospheres read as kPa?",
            air.pressure_kpa,
            unit="kPa",
            limit=MOST_KPA if air.pressure_kpa > MOST_KPA else LEAST_KPA,
        )


@caution("wind-odd", "caution", SECTION, basis=LIKELY_SLIP, unit="m/s")
def wind_odd(of: SectionFacts) -> Iterator[Told]:
    """`gust_speed` over 45 m/s."""
    gust = of.scenario.gust_speed_m_s
    if gust is not None and gust > STRONGEST_WIND_M_S:
        yield Told(
            f"gusts of {gust:g} m/s: km/h, mph or knots read as m/s?",
            gust,
            limit=STRONGEST_WIND_M_S,
        )


@caution("proof-loose", "caution", SECTION, basis=LIKELY_SLIP, unit="dB", for_rigger=False)
def proof_loose(of: SectionFacts) -> Iterator[Told]:
    """`gap_db` over 1 dB, or `lower_if_within_db` over 3 dB."""
    aim = of.scenario.aim
    for key, value, most in (
        ("gap_db", aim.gap_db, LOOSEST_GAP_DB),
        ("lower_if_within_db", aim.lower_if_within_db, LOWERED_MOST_DB),
    ):
        if value > most:
            yield Told(f"{key} is {value:g} dB: the answer is that far from the best", value, most)


# Where the box is.


def _floor_beneath_m(scenario: Scenario, x_m: float) -> float:
    """z of the lowest floor at x; where none is, of the nearest end of one."""
    spans = [of.floor_m for of in scenario.seatings]
    over = [np.interp(x_m, of[:, 0], of[:, 1]) for of in spans if of[0, 0] <= x_m <= of[-1, 0]]
    if over:
        return float(min(over))
    ends = [point for of in spans for point in (of[0], of[-1])]
    nearest = min(ends, key=lambda point: abs(float(point[0]) - x_m))
    return float(min(nearest[1], 0.0))


@caution("centre-below-floor", "stop", LOUDSPEAKER, limit=limits.BELOW_FLOOR)
def centre_below_floor(of: SpeakerFacts) -> Iterator[Told]:
    """The acoustic centre lies lower than every floor at its place by more than this."""
    x, z = of.held.at_m
    under = _floor_beneath_m(of.scenario, x) - z
    if under > of.limit(limits.BELOW_FLOOR):
        yield Told(
            f"the acoustic centre lies {of.length(under)} under the floor: a sign lost?", under
        )


@caution("centre-over-ceiling", "stop", LOUDSPEAKER, basis="ours: sound does not pass a ceiling")
def centre_over_ceiling(of: SpeakerFacts) -> Iterator[Told]:
    """A surface over all ears lies under the acoustic centre."""
    x, z = of.held.at_m
    top = float(of.scenario.rows.z_m.max())
    for surface in of.scenario.surfaces:
        for (x0, z0), (x1, z1) in zip(surface.line_m[:-1], surface.line_m[1:], strict=True):
            if x0 == x1 or not min(x0, x1) <= x <= max(x0, x1):
                continue
            there = float(z0 + (x - x0) / (x1 - x0) * (z1 - z0))
            if top < there < z:
                yield Told(
                    f"the acoustic centre lies {of.length(z - there)} over {surface.name}: "
                    f"{_too_large(of)}",
                    z - there,
                    unit="m",
                    limit=0.0,
                )
                return


@caution("far-over-house", "caution", LOUDSPEAKER, limit=limits.STEEPEST_VIEW)
def far_over_house(of: SpeakerFacts) -> Iterator[Told]:
    """The farthest row served sees the acoustic centre higher than this."""
    rows, served = of.scenario.rows, of.at.served
    x, z = of.held.at_m
    run = np.abs(rows.x_m[served] - x)
    row = int(served[np.argmax(run)])
    seen = float(np.degrees(np.arctan2(z - rows.z_m[row], max(run.max(), 1e-9))))
    if seen > of.limit(limits.STEEPEST_VIEW):
        yield Told(
            f"at {of.length(z)} it is seen {seen:.0f}° up from {rows.label(row)}, the farthest: "
            f"far over a house of this size. {_too_large(of).capitalize()}",
            seen,
        )


@caution("throw-long", "caution", LOUDSPEAKER, limit=limits.LONGEST_THROW, for_rigger=False)
def throw_long(of: SpeakerFacts) -> Iterator[Told]:
    """A row served is farther from a box indoors than this."""
    if of.scenario.outdoors:
        return
    far = float(of.rows.distance_m[of.at.served].max())
    if far > of.limit(limits.LONGEST_THROW):
        yield Told(
            f"its farthest row is {of.length(far)} away, far for one box indoors: {_too_large(of)}",
            far,
        )


@caution("box-beside-house", "caution", LOUDSPEAKER, limit=limits.FARTHEST_BESIDE)
def box_beside_house(of: SpeakerFacts) -> Iterator[Told]:
    """The box is this far before the first row served, or most rows lie behind it."""
    rows, served = of.scenario.rows, of.at.served
    ahead = rows.x_m[served] - of.held.at_m[0]
    most = of.limit(limits.FARTHEST_BESIDE)
    away = float(ahead.min())
    if away > most:
        yield Told(f"it is {of.length(away)} before its first row: x in another unit?", away)
    elif float(np.mean(ahead < 0.0)) > 0.5 and abs(of.held.tilt_deg) < 89.0:
        past = -float(np.median(ahead))
        yield Told(
            f"most of its rows lie behind it, {of.length(past)} in the middle, and it points "
            "towards +x: x of the wrong sign?",
            past,
        )


@caution("out-of-reach", "caution", LOUDSPEAKER, limit=limits.OUT_OF_REACH)
def out_of_reach(of: SpeakerFacts) -> Iterator[Told]:
    """Ears nearer to the acoustic centre than this."""
    near = float(of.rows.distance_m.min())
    if near < of.limit(limits.OUT_OF_REACH):
        row = of.scenario.rows.label(int(np.argmin(of.rows.distance_m)))
        away = f"{of.length(near)} from the acoustic centre"
        yield Told(f"the ears of {row} are {away}: a slip in a height?", near)


@caution("tilt-sign", "caution", LOUDSPEAKER, basis=LIKELY_SLIP, unit="°")
def tilt_sign(of: SpeakerFacts) -> Iterator[Told]:
    """Every tilt that the file allows passes the rows served, where the other sign would not."""
    low, high = of.at.speaker.hang.tilt_deg
    rows, served = of.scenario.rows, of.at.served
    x, z = of.held.at_m
    seen = np.degrees(np.arctan2(rows.z_m[served] - z, rows.x_m[served] - x))
    least, most = float(seen.min()), float(seen.max())
    passes = low > most + _NEARLY_DEG or high < least - _NEARLY_DEG
    if passes and -high <= most and -low >= least:
        meant = f"{-low:g}" if low == high else f"[{-high:g}, {-low:g}]"
        yield Told(
            f"{tilt_text(of.held.tilt_deg)} passes the rows served, which lie between "
            f"{tilt_text(least)} and {tilt_text(most)}: did you mean {meant}?".replace("-", "−"),
            of.held.tilt_deg,
        )


# The box and its settings.


@caution("box-size", "caution", LOUDSPEAKER, limit=limits.LARGEST_BOX)
def box_size(of: SpeakerFacts) -> Iterator[Told]:
    """A side of the cabinet longer than this, or shorter than `smallest_box`."""
    cabinet = of.at.speaker.cabinet
    if cabinet is None or cabinet.outline_m is None:
        return
    sides = np.ptp(np.asarray(cabinet.outline_m), axis=0)
    longest, shortest = float(sides.max()), float(sides.min())
    if longest > of.limit(limits.LARGEST_BOX):
        long = f"{of.length(longest)} long in the section"
        yield Told(f"the cabinet is {long}, as no single box is: mm or inches?", longest)
    least = of.limit(limits.SMALLEST_BOX)
    if shortest < least:
        long = f"{of.length(shortest)} long in the section"
        yield Told(f"the cabinet is {long}, smaller than any: a slip of unit?", shortest, least)
    off = _outside_m(np.asarray(cabinet.outline_m), (0.0, 0.0))
    if off > longest:
        out = f"{of.length(off)} outside the cabinet"
        yield Told(f"the acoustic centre lies {out}: the outline's origin?", off, 0.0)


def _outside_m(outline_m: FloatArray, at_m: tuple[float, float]) -> float:
    """How far a point of the body lies outside the outline, along u or w."""
    low, high = outline_m.min(axis=0), outline_m.max(axis=0)
    return float(np.maximum(np.maximum(low - at_m, at_m - high), 0.0).max())


@caution("point-off-box", "caution", LOUDSPEAKER, limit=limits.FARTHEST_POINT)
def point_off_box(of: SpeakerFacts) -> Iterator[Told]:
    """A pick or the laser lies farther outside the outline than this."""
    cabinet = of.at.speaker.cabinet
    if cabinet is None or cabinet.outline_m is None:
        return
    points = [(f"pick {pick.name}", pick.at_m) for pick in cabinet.picks]
    if cabinet.laser_at_m is not None:
        points.append(("the laser", cabinet.laser_at_m))
    for name, at_m in points:
        off = _outside_m(np.asarray(cabinet.outline_m), at_m)
        if off > of.limit(limits.FARTHEST_POINT):
            yield Told(
                f"{name} lies {of.length(off)} outside the cabinet: u and w changed over, or a "
                "length in another unit?",
                off,
            )


@caution("centre-outside-outline", "caution", LOUDSPEAKER, basis=LIKELY_SLIP)
def outside_outline(of: SpeakerFacts) -> Iterator[Told]:
    """The centre of gravity lies outside the outline."""
    cabinet = of.held.speaker.cabinet
    if cabinet is None or cabinet.outline_m is None or not centre_outside_outline(cabinet):
        return
    assert cabinet.centre_of_gravity_m is not None
    u, w = cabinet.centre_of_gravity_m
    yield Told(
        f"the centre of gravity, u = {u:g} m, w = {w:g} m, lies outside the cabinet's outline: "
        "one of the two is likely wrong"
    )


@caution("rating-odd", "caution", LOUDSPEAKER, limit=limits.LARGEST_RATING)
def rating_odd(of: SpeakerFacts) -> Iterator[Told]:
    """A point, a part of a line or the structure is said to carry more than this."""
    cabinet, rigging = of.at.speaker.cabinet, of.held.rigging
    rated = [] if cabinet is None else [(f"pick {one.name}", one.wll_n) for one in cabinet.picks]
    if rigging is not None:
        rated += [(part.name, part.wll_n) for line in rigging.lines for part in line.parts]
        rated.append(("the structure", rigging.structure_capacity_n))
    for name, given_n in rated:
        carries_kn = (given_n or 0.0) / 1000.0
        if carries_kn > of.limit(limits.LARGEST_RATING):
            yield Told(
                f"{name} is said to carry {carries_kn:,.0f} kN: g or N read as kg or kN?",
                carries_kn,
            )


@caution("steel-far", "caution", RIGGED, limit=limits.LONGEST_LINE)
def steel_far(of: SpeakerFacts) -> Iterator[Told]:
    """`steel_height` lies higher over the acoustic centre than this."""
    steel = of.rigging.steel_height_m
    over = 0.0 if steel is None else steel - of.held.at_m[1]
    if over > of.limit(limits.LONGEST_LINE):
        yield Told(f"the steel lies {of.length(over)} over the box: {_too_large(of)}", over)


@caution("base-high", "caution", STANDS, limit=limits.HIGHEST_BASE)
def base_high(of: SpeakerFacts) -> Iterator[Told]:
    """What it stands on is higher over the floor than this."""
    if of.corners_m is None:
        return
    over = float(of.corners_m[:, 1].min()) - _floor_beneath_m(of.scenario, of.held.at_m[0])
    if over > of.limit(limits.HIGHEST_BASE):
        yield Told(f"it stands {of.length(over)} over the floor: {_too_large(of)}", over)


@caution("box-density", "caution", LOUDSPEAKER, limit=limits.HEAVIEST_BOX)
def box_density(of: SpeakerFacts) -> Iterator[Told]:
    """A mass for the side that the section shows above this, or below `lightest_box`."""
    cabinet = of.at.speaker.cabinet
    if cabinet is None or cabinet.outline_m is None or cabinet.mass_kg is None:
        return
    area = float(np.prod(np.ptp(np.asarray(cabinet.outline_m), axis=0)))
    if area <= 0.0:
        return
    for_area, unit = cabinet.mass_kg / area, of.scenario.units
    side = f"{area:.2f} m²" if unit == "m" else f"{area / FOOT_M**2:.1f} sq ft"
    found = f"{mass_text(cabinet.mass_kg, unit)} in a side of {side}"
    least = of.limit(limits.LIGHTEST_BOX)
    if for_area > of.limit(limits.HEAVIEST_BOX):
        yield Told(
            f"{found}: heavier than any box. lb or g read as kg, or a size in another unit?",
            for_area,
        )
    elif for_area < least:
        yield Told(
            f"{found}: lighter than any box. t read as kg, or a size in another unit?",
            for_area,
            least,
        )


@caution("setting-odd", "caution", LOUDSPEAKER, limit=limits.LARGEST_GAIN)
def setting_odd(of: SpeakerFacts) -> Iterator[Told]:
    """A gain or an equaliser larger than this that the file gives."""
    speaker = of.at.speaker
    most = of.limit(limits.LARGEST_GAIN)
    eq = ((f"equaliser at {band:g} Hz", value) for band, value in speaker.eq_db.items())
    for name, value in (("gain", speaker.gain_db), *eq):
        if abs(value) > most:
            yield Told(f"{name} of {value:g} dB: as no amplifier or desk has; a slip?", value)


@caution("delay-odd", "caution", LOUDSPEAKER, limit=limits.LONGEST_DELAY)
def delay_odd(of: SpeakerFacts) -> Iterator[Told]:
    """A delay longer than the sound's way across the whole house by more than this."""
    rows = of.scenario.rows
    across_m = float(np.hypot(np.ptp(rows.x_m), np.ptp(rows.z_m)))
    across_m += abs(float(rows.x_m.min())) + 10.0
    way_ms = 1000.0 * across_m / of.scenario.air.speed_of_sound_m_s
    past = of.at.speaker.delay_ms - way_ms
    if past > of.limit(limits.LONGEST_DELAY):
        yield Told(
            f"a delay of {of.at.speaker.delay_ms:g} ms, where sound crosses the house in "
            f"{way_ms:.0f} ms: µs or s read as ms?",
            past,
        )


@caution("data-odd", "caution", LOUDSPEAKER, basis=LIKELY_SLIP, for_rigger=False)
def data_odd(of: SpeakerFacts) -> Iterator[Told]:
    """A data sheet's figure that no box has: vertical coverage under 8° or over 150°, pattern
    control under 100 Hz or over the design bands, a lobe that falls by less than 10 dB, a
    sensitivity outside 70 to 120 dB, a greatest level outside 90 to 155 dB.
    """
    speaker, nominal = of.at.speaker, of.at.speaker.nominal
    if nominal is not None:
        cover = nominal.above_deg + nominal.below_deg
        if not NARROWEST_DEG <= cover <= WIDEST_DEG:
            yield Told(
                f"a vertical coverage of {cover:g}°, as hardly any box has: half-angle, or the "
                "horizontal one?",
                cover,
                unit="°",
                limit=WIDEST_DEG if cover > WIDEST_DEG else NARROWEST_DEG,
            )
        control, top = nominal.control_from_hz, max(of.scenario.aim.bands_hz)
        if control is not None and not LOWEST_CONTROL_HZ <= control <= top:
            yield Told(
                f"pattern control from {control:g} Hz: kHz read as Hz?",
                control,
                unit="Hz",
                limit=LOWEST_CONTROL_HZ if control < top else top,
            )
        if nominal.lowest_db > SHALLOWEST_LOBE_DB:
            yield Told(
                f"no direction falls below {nominal.lowest_db:g} dB: a lobe that hardly falls",
                nominal.lowest_db,
                unit="dB",
                limit=SHALLOWEST_LOBE_DB,
            )
    for name, given, least, most in (
        ("sensitivity", speaker.sensitivity_db, LEAST_SENSITIVITY_DB, MOST_SENSITIVITY_DB),
        ("greatest level", speaker.max_level_db, LEAST_MAXIMUM_DB, MOST_MAXIMUM_DB),
    ):
        values = list(given.values()) if isinstance(given, dict) else [given]
        odd = next((one for one in values if one is not None and not least <= one <= most), None)
        if odd is not None:
            yield Told(
                f"a {name} of {odd:g} dB, as no box has: a digit too many or too few?",
                odd,
                unit="dB",
                limit=most if odd > most else least,
            )


@caution("early-reflection", "caution", LOUDSPEAKER, limit=limits.EARLY_STRONG, for_rigger=False)
def early_reflection(of: SpeakerFacts) -> Iterator[Told]:
    """A surface nearer to the box than to the row sends sound there sooner than `early_ms` after
    the direct sound and stronger than this against it: that colours it.
    """
    scenario = of.scenario
    if not scenario.surfaces:
        return
    found = of.missing.paths
    level = found.level_db.mean(axis=0)
    strong = np.isin(found.point, of.at.served) & (found.delay_ms < of.limit(limits.EARLY))
    strong &= level > of.limit(limits.EARLY_STRONG)
    # What comes off a wall beside the listener belongs to the seat; this is about the hang.
    ears = np.stack([scenario.rows.x_m, scenario.rows.z_m], axis=1)
    ears = ears[np.minimum(found.point, len(ears) - 1)]
    strong &= np.hypot(*(found.at_m - of.held.at_m).T) < np.hypot(*(found.at_m - ears).T)
    for surface in sorted(set(found.surface[strong].tolist())):
        those = np.flatnonzero(strong & (found.surface == surface))
        worst = int(those[np.argmax(level[those])])
        row = scenario.rows.label(int(found.point[worst]))
        others = len(set(found.point[those].tolist())) - 1
        more = f", and to {others} more row{'s' * (others > 1)}" if others else ""
        name = scenario.surfaces[surface].name
        yield Told(
            f"{name} sends sound to {row} {found.delay_ms[worst]:.1f} ms "
            f"after the direct sound, {abs(level[worst]):.1f} dB "
            f"{'softer' if level[worst] < 0.0 else 'louder'} than it{more}: that colours the sound",
            float(level[worst]),
        )
