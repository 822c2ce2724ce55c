"""docs/validation.md, published values beside what is computed: `python docs/make_validation.py`.

The tables are those of tests/published, so a value has one home.
"""

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from math import degrees, radians
from pathlib import Path

import numpy as np

from aiming.aim.ideal import ideal
from aiming.air import Air, absorption_db_per_m
from aiming.bands import OCTAVES_HZ, THIRDS_HZ, a_weighting_db, edges_hz, exact_midband_hz
from aiming.field.levels import loss_db, power_sum_db
from aiming.field.together import coherent_sum_db
from aiming.rigging import bridle, loads_at, reachable_tilt_deg
from aiming.rigging.bridle import leg_factor
from aiming.rigging.stack import wind_pressure_pa
from aiming.sight import c_value_m, riser_for_c_m
from aiming.speaker.figures import control_from_hz, rectangular_q
from aiming.speaker.lobes import nominal_pattern, piston_db
from aiming.speaker.pattern import edge_deg

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent / "tests"), str(HERE.parent / "tests" / "published")]
import test_chord_rule as chord  # noqa: E402
import test_iec_61260_1 as iec_bands  # noqa: E402
import test_iec_61672_1 as iec_weighting  # noqa: E402
import test_iso_9613_1 as iso1  # noqa: E402
import test_iso_9613_2 as iso2  # noqa: E402
import test_rigging_published as held  # noqa: E402

STATUS = {
    "V": "read in the published text, or recomputed by at least two independent codes",
    "V2": "read in a secondary text only",
    "C": "computed from the closed form, by a second code",
    "M": "from memory: no check rests on it alone",
    "P": "common practice of the trade, no source",
}


@dataclass(frozen=True)
class Check:
    """One published value: the tool must come within tolerance (in unit) of it."""

    topic: str
    quantity: str
    source: str
    status: str
    published: float
    computed: float
    tolerance: float
    unit: str

    @property
    def holds(self) -> bool:
        return abs(self.computed - self.published) <= self.tolerance * (1.0 + 1e-9)


def air() -> Iterator[Check]:
    """ISO 9613-1 and -2."""
    topic, table = "Air", "ISO 9613-1:1993, Table 1"
    for celsius, humidity, hz, published in iso1.TABLE_1:
        here = Air(temperature_c=celsius, humidity_percent=humidity)
        found = 1000.0 * float(absorption_db_per_m(exact_midband_hz(hz), here))
        name = f"absorption, {celsius} °C, {humidity} %, {hz} Hz"
        yield Check(topic, name, table, "V", published, found, 0.005 * published, "dB/km")
    for (celsius, humidity), printed in iso2.TABLE_2.items():
        here = Air(temperature_c=celsius, humidity_percent=humidity)
        for hz, text in zip(iso2.OCTAVES, printed.split(), strict=True):
            found = 1000.0 * float(absorption_db_per_m(exact_midband_hz(hz), here))
            odd = (celsius, humidity, hz) == (15, 80, 1000.0)
            half = 0.06 if odd else 0.05 if "." in text else 0.5
            name = f"absorption, {celsius} °C, {humidity} %, {hz:g} Hz"
            table = "ISO 9613-2:1996, Table 2"
            yield Check(topic, name, table, "V", float(text), found, half, "dB/km")
    for celsius, speed in iso1.SPEED_M_S.items():
        found = Air(temperature_c=celsius).speed_of_sound_m_s
        name, rule = f"speed of sound, {celsius} °C", "ISO 9613-1:1993, A.5"
        yield Check(topic, name, rule, "V", speed, found, 0.01, "m/s")


def bands() -> Iterator[Check]:
    """IEC 61260-1 and IEC 61672-1."""
    topic, rule = "Bands and weighting", "IEC 61260-1:2014"
    for nominal, exact in iec_bands.EXACT_OCTAVES_HZ.items():
        tolerance = 0.006 if exact > 1e4 else 0.0006
        found = exact_midband_hz(nominal)
        yield Check(topic, f"exact {nominal:g} Hz", rule, "V", exact, found, tolerance, "Hz")
    low, high = edges_hz(1000.0, per_octave=1)
    yield Check(topic, "1 kHz octave, lower edge", rule, "V", 707.9457843841, low, 1e-9, "Hz")
    yield Check(topic, "1 kHz octave, upper edge", rule, "V", 1412.5375446228, high, 1e-9, "Hz")
    weights = a_weighting_db([exact_midband_hz(hz) for hz in THIRDS_HZ])
    rule = "IEC 61672-1:2013, Table 3"
    for hz, published, found in zip(THIRDS_HZ, iec_weighting.TABLE_3_DB, weights, strict=True):
        yield Check(topic, f"A at {hz:g} Hz", rule, "V", published, float(found), 0.0501, "dB")
    pink = a_weighting_db([exact_midband_hz(hz) for hz in OCTAVES_HZ[2:10]])
    found = iec_weighting.total_db(pink) - iec_weighting.total_db(np.zeros(8))
    name = "pink noise, A re unweighted, octaves 63 Hz to 8 kHz"
    yield Check(topic, name, "sum over IEC 61672-1 annex E", "C", -2.057, found, 0.005, "dB")


def patterns() -> Iterator[Check]:
    """Piston, Keele, Molloy."""
    topic, kinsler = "Patterns", "Kinsler et al., Fundamentals of Acoustics, §7.4 (place: M)"
    for x, level in ((2.215089, -6.0206), (2.21179, -6.0), (1.61374, -3.0), (2.73138, -10.0)):
        angle = degrees(np.arcsin(x * np.sin(radians(10.0)) / 2.215089))
        found = float(piston_db(np.array(angle), 10.0))
        yield Check(topic, f"piston at x = {x}", kinsler, "C", level, found, 1e-4, "dB")
    angle = degrees(np.arcsin(5.135622 * np.sin(radians(10.0)) / 2.215089))
    lobe = float(piston_db(np.array(angle), 10.0))
    yield Check(topic, "piston, first side lobe", kinsler, "C", -17.57015, lobe, 1e-5, "dB")
    for ka, whole in ((3, 95.18), (4, 67.25), (5, 52.59), (6, 43.33), (10, 25.60), (20, 12.72)):
        half = degrees(np.arcsin(2.215089 / ka))
        of = nominal_pattern(above_deg=half, below_deg=half, bands_hz=(1000.0,), lobe="piston")
        edge = edge_deg(of.angle_deg, of.level_db[0], above=True)
        assert edge is not None
        name = f"piston ka {ka}, −6.02 dB full angle, read from the table"
        yield Check(topic, name, kinsler, "C", whole, 2.0 * edge, 0.015, "°")
    keele = "Keele, AES 51st Convention, 1975"
    for angle, mouth, hz in ((90.0, 0.5, 564.4444), (40.0, 0.5, 1270.0), (60.0, 0.3, 1411.1111)):
        found = control_from_hz(coverage_deg=angle, mouth_m=mouth)
        name = f"control of a {angle:g}° horn, mouth {mouth} m"
        yield Check(topic, name, keele, "V2", hz, found, 1e-4, "Hz")
    molloy = "Molloy, in the Sound System Design Reference Manual (1999), ch. 3"
    for wide, high, q in (
        (90, 90, 6.0),
        (180, 90, 4.0),
        (90, 40, 12.8613271),
        (60, 40, 18.2805109),
    ):
        found = rectangular_q(horizontal_deg=wide, vertical_deg=high)
        yield Check(topic, f"Q of {wide}° × {high}°", molloy, "V", q, found, 1e-6, "")


def free_field() -> Iterator[Check]:
    """Distance and sums."""
    topic, davis = "Free field", "Davis and Patronis, Sound System Engineering, §2.15"
    for distance, loss in ((2, 6.021), (4, 12.041), (8, 18.062), (16, 24.082), (100, 40.0)):
        found = float(loss_db(np.array([float(distance)]), np.zeros(1))[0, 0])
        yield Check(topic, f"20·lg {distance}", "closed form", "C", loss, found, 5e-4, "dB")
    for one, other, total in ((90, 90, 93.01), (90, 96, 96.97), (62, 73, 73.33), (80, 85, 86.19)):
        found = float(power_sum_db(np.array([one, other], dtype=float)))
        yield Check(topic, f"incoherent {one} + {other}", davis, "V", total, found, 0.01, "dB")
    pair = np.array([[[80.0]], [[80.0]]])
    step = float(coherent_sum_db(pair, np.zeros((2, 1)), (1000.0,))[0, 0]) - 80.0
    yield Check(topic, "two equal sources in step", "closed form", "C", 6.0206, step, 0.01, "dB")


def rule_of_thumb() -> Iterator[Check]:
    """The chord of the trade's rule."""
    topic, rule = "The trade's rule of thumb", "geometry: C; the rule itself: P"
    for half, length, beta, quadratic, *_ in chord.TABLE:
        found = ideal(coverage_deg=2 * half, near_m=(0.0, 0.0), far_m=(length, 0.0))
        name = f"half-angle {half:g}°"
        yield Check(
            topic, f"{name}: near throw for L = {length} d", rule, "C", 1.0, found.near_throw_m,
            1e-5, "d",
        )  # fmt: skip
        yield Check(
            topic, f"{name}: axis to line β", rule, "C", beta, found.axis_to_plane_deg, 0.005, "°"
        )
        yield Check(
            topic, f"{name}: excess over the ends, quadratic lobe", rule, "C", quadratic[0],
            found.excess_db, 0.005, "dB",
        )  # fmt: skip
        yield Check(
            topic, f"{name}: where, from the near end", rule, "C", quadratic[1],
            found.excess_at_share, 0.002, "",
        )  # fmt: skip


def statics() -> Iterator[Check]:
    """Two points, bar, pull-back, bridle."""
    topic, moments = "Statics and rigging", "equilibrium; virtual work as a second code"
    for down, front, rear in ((0, 194.17, 247.13), (10, 139.70, 301.60), (30, 15.82, 425.48)):
        found = held.tensions_n(held.LEVEL_PICKS, held.TWO, -down)
        for name, published, tension in zip(("front", "rear"), (front, rear), found, strict=True):
            what = f"two points, 45 kg, nose down {down}°: {name}"
            yield Check(topic, what, moments, "C", published, tension, 0.005, "N")
    loads = loads_at(held.LEVEL_PICKS, held.TWO, flipped=False, tilt_deg=0.0)
    ends = zip(("lowest", "highest"), (-32.15, 38.66), loads.tilt_range_deg, strict=True)
    for name, published, end in ends:
        yield Check(topic, f"{name} tilt, both taut", moments, "C", published, end, 0.005, "°")
    low = reachable_tilt_deg(held.STEP_PICKS, held.TWO, flipped=False).range_deg
    yield Check(topic, "unequal picks, highest tilt", moments, "C", 43.03, low[1], 0.005, "°")
    for beta, pull in ((-30, 391.3), (0, 144.7), (30, 106.3), (60, 106.5), (90, 145.9)):
        found = held.tensions_n(held.PULL_PICKS, held.pull_back(beta), -20.0)[1]
        what = f"pull-back at {beta}°, nose down 20°"
        yield Check(topic, what, moments, "C", pull, found, 0.06, "N")
    legs = bridle(load_n=500.0, drops_m=(4.0, 3.0), reaches_m=(3.0, 6.0)).legs
    hall = "Hall, Rigging Math, lesson 4"
    for published, leg in zip((454.5, 304.9), legs, strict=True):
        yield Check(topic, "bridle, 500 lb", hall, "V", published, leg.tension_n, 0.06, "lb")
    for angle, factor in ((75, 1.035), (60, 1.155), (45, 1.414), (30, 2.0)):
        found = leg_factor(float(angle))
        name = f"leg factor at {angle}°"
        yield Check(topic, name, "trade tables", "V2", factor, found, 6e-4, "")
    wind = wind_pressure_pa(15.0)
    yield Check(
        topic, "wind pressure at 15 m/s", "EN 1991-1-4: ½ρv²", "V2", 140.6, wind, 0.05, "Pa"
    )


def sightlines() -> Iterator[Check]:
    """C-values."""
    topic, sheets = "Sightlines", "worksheets on stadium design"
    riser = float(riser_for_c_m(distance_m=30.0, height_m=10.0, tread_m=1.0, c_m=0.15))
    yield Check(topic, "riser for C = 0.15 m", sheets, "V", 0.4883, riser, 5e-5, "m")
    c = 1000.0 * float(c_value_m(distance_m=12.0, height_m=2.0, tread_m=0.8, riser_m=0.15))
    yield Check(topic, "C-value", "the same formula", "C", 15.6, c, 0.05, "mm")


def checks() -> tuple[Check, ...]:
    """Every check, topic by topic."""
    made = (air, bands, patterns, free_field, rule_of_thumb, statics, sightlines)
    return tuple(check for of in made for check in of())


HEAD = """\
# Validation

Made by `python docs/make_validation.py`; a test makes it again and fails where a value is out
of its tolerance. {count} values stand below, all {holding} within tolerance. By status:

| status | meaning | values |
|---|---|---|
{statuses}

**From memory** (M): the place of the piston formula in its book, the seated ear height of ISO
3382-1 and the standing one, the Kurze and Anderson form and the 20 dB cap of ISO 9613-2 (7.4).
No check rests on one of them alone.

**Common practice of the trade, no source** (P): the edge at *d* is as loud as the axis at 2*d*;
a late reflection is one after 50 ms; a fill 5 ms behind its main, and one 20 ms late while
within 6 dB is heard apart; heads in front matter below 7° of grazing. Each is marked where it
is used, and its threshold can be moved ([cautions](cautions.md)).

**Our own choice**: 0.5 dB for the setting window and for the lowest place; the knee of the
front rows; a single box ends at 1.2 m; the flat lobe; the noise model on site ([on
site](on-site.md)). They are called "ours" in the cautions' table.

**Not claimed**: no conformance with any uniformity class, no level limit unless you name one.

## How far the trade's rule holds

Along the straight line from the coverage edge at *d* to the axis at 2*d* the two ends are
equally loud, but the line between them is not: it is up to the excess below louder, about a
third of the way from its near end (quadratic lobe, no air). Tone changes along it by the whole
6 dB from end to end. The true line of equal level is a curve; `aiming` computes it, with air.

| half-angle | excess | where, from the near end |
|---|---|---|
{rule}
"""


def markdown() -> str:
    """The page."""
    found = checks()
    statuses = "\n".join(
        f"| {code} | {text} | {sum(check.status == code for check in found)} |"
        for code, text in STATUS.items()
    )
    rule = []
    for half, *_ in chord.TABLE:
        one = ideal(coverage_deg=2 * half, near_m=(0.0, 0.0), far_m=(1.0, 0.0))
        share = 100.0 * one.excess_at_share
        rule.append(f"| {half:g}° | {one.excess_db:+.2f} dB | {share:.0f} % |")
    lines = [
        HEAD.format(
            count=len(found),
            holding=sum(check.holds for check in found),
            statuses=statuses,
            rule="\n".join(rule),
        )
    ]
    for topic in dict.fromkeys(check.topic for check in found):
        lines += [
            f"## {topic}",
            "",
            "| quantity | source | status | published | computed | difference | tolerance |",
            "|---|---|---|---|---|---|---|",
        ]
        for one in found:
            if one.topic == topic:
                unit = f" {one.unit}" if one.unit else ""
                off = one.computed - one.published
                # Rounding differs from machine to machine; the page must not.
                gone = abs(off) < 1e-3 * one.tolerance
                difference = "0" if gone else f"{off:+.1e}"
                lines.append(
                    f"| {one.quantity} | {one.source} | {one.status} | {one.published:g}{unit} "
                    f"| {one.computed:.6g} | {difference} | {one.tolerance:.2g}{unit} |"
                )
        lines.append("")
    return "\n".join(lines)


if __name__ == "__main__":
    (HERE / "validation.md").write_text(markdown(), encoding="utf-8")
