"""A ground trial's levels held against the pattern and against the trade's rules."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, cast

import numpy as np

from ..base.arrays import FloatArray
from ..base.bands import band_label
from ..base.errors import Fault, ScenarioError, found_text
from ..base.units import signed_text
from ..field.levels import loss_db
from ..results.serialise import plain
from ..speaker.pattern import EDGE_DB
from .banding import in_bands
from .compare import STANDS_OUT, median, shared_only, shifted, stands_out
from .draws import Draws, Prior
from .estimate import Estimate, Interval, estimate, quantile_interval
from .evidence import Evidence
from .ground_trial import AXIS, EDGE, OTHER, TWICE, GroundPoint, GroundTrial
from .model import PositionFound, StandsOut, by_band
from .prediction import Points
from .reading_equations import INTERVAL
from .traces import Files, Magnitude, Trace, measured_traces

SITE_DB, BAND_DB = 0.4, 0.7
"""Standard deviations on open ground, microphones on it: nothing stands near; our own choice."""
WIDTH = 0.25
"""What a trial is for: a pattern may be this far beside its data (one standard deviation)."""
TURNED_DEG = (1.5, 4.0)
"""How well a box is turned by eye: carefully, or not; standard deviations."""
LIKE_DB = 0.5
"""A rule that holds is met to within this (a standard deviation) beside the errors; our own."""


@dataclass(frozen=True)
class Verdict:
    """One rule of the trade: what was measured, what its data give, and whether they agree."""

    rule: Annotated[str, "which"]
    text: Annotated[str, "measured and computed"]
    holds: Annotated[bool, "whether they agree within the errors"]


@dataclass(frozen=True, eq=False)
class GroundFound:
    """The pattern as the trial has it.

    coarse_csv: the directions measured, as a pattern file
    line_spread_db, edge_spread_db: {} where not measured at all
    """

    headline: Annotated[str, "the coverage angle with its interval"]
    trial: GroundTrial
    coverage_deg: Annotated[
        Interval | None,
        "between the directions where the design pattern is 6.02 dB down, degrees; null where the "
        "levels do not tell it to within a fifth",
    ]
    pattern_scale: Annotated[Interval | None, "its ratio to the data's; null likewise"]
    turned_deg: Annotated[
        Interval | None,
        "how far the box pointed off the line of the microphones, degrees, towards its top; null "
        "where the levels do not tell it",
    ]
    explained: Annotated[
        bool | None,
        "whether that and gains explain the levels; null where too few positions could tell",
    ]
    stands_out: tuple[StandsOut, ...]
    verdicts: Annotated[tuple[Verdict, ...], "the rules of the trade that the positions allow"]
    positions: Annotated[tuple[PositionFound, ...], "the microphones"]
    points: tuple[GroundPoint, ...]
    line_spread_db: Annotated[
        dict[float, float | None],
        "loudest minus softest along the line, dB; null where not measured",
    ]
    edge_spread_db: Annotated[
        dict[float, float | None], "from the axis to the edge at d, dB; null where not measured"
    ]
    traces: tuple[Trace, ...]
    coarse_csv: str

    @property
    def speaker(self) -> Annotated[str, "the loudspeaker"]:
        """Of the trial."""
        return self.trial.speaker

    @property
    def distance_m(self) -> Annotated[float, "d, m"]:
        """Of the trial."""
        return self.trial.distance_m

    @property
    def notes(self) -> Annotated[tuple[str, ...], "what to expect and what was left out"]:
        """Of the trial."""
        return self.trial.notes

    @property
    def advice(self) -> Annotated[str, "what it comes to, in words"]:
        """Headline and verdicts in one text."""
        return " ".join(
            f"{one.rstrip('.')}." for one in (self.headline, *(v.text for v in self.verdicts))
        )

    def to_dict(self) -> dict[str, Any]:
        """Plain lists, numbers and strings, ready for JSON."""
        return cast(dict[str, Any], plain(self))


def compare_on_ground(
    trial: GroundTrial,
    measured: str | Path | None = None,
    *,
    at: Mapping[str, Files] | None = None,
    magnitude: Magnitude | None = None,
    site_db: float = SITE_DB,
    band_db: float = BAND_DB,
) -> GroundFound:
    """Hold the trial's measured levels against the pattern.

    measured, at, magnitude, site_db, band_db: as for a comparison on site; positions go by the
    trial's names.  Raises ScenarioError.
    """
    traces = measured_traces(measured, at, magnitude=magnitude)
    named = [trial.point(trace.position) for trace in traces]
    faults = [
        Fault(
            trace.file,
            trace.line,
            1,
            "position",
            f"{found_text(trace.position)} is no position of the trial; "
            f"{', '.join(one.name for one in trial.points)}, or line at 0.25 and the like",
        )
        for trace, point in zip(traces, named, strict=True)
        if point is None
    ]
    if faults:
        raise ScenarioError(faults)
    points = tuple(one for one in named if one is not None)
    x = np.array([one.ahead_m for one in points])
    z = np.array([one.aside_m for one in points])
    every = in_bands(traces, trial.bands_hz)
    level = shared_only(every.level_db, trial.bands_hz, traces[0])
    design = [trial.bands_hz.index(band) for band in trial.design_hz]
    found, scale, wide, explained = None, None, None, None
    if np.isfinite(level[design]).any():
        found = _estimate(trial, x, z, level[design], every.doubt_db[design], site_db, band_db)
        wide, scale = coverage(trial, found)
        explained = None if len(points) < 3 else found.sound
    names = tuple(one.name for one in points)
    out = stands_out(found, _on_ground(x, z), names) if found else ()
    told = wide if explained is not False else None
    verdicts = _verdicts(trial, points, level, site_db, band_db)
    return GroundFound(
        trial=trial,
        coverage_deg=told,
        pattern_scale=scale if explained is not False else None,
        turned_deg=_turned(found),
        explained=explained,
        stands_out=out,
        verdicts=verdicts,
        headline=_headline(trial, told, scale, explained, out),
        positions=_positions(trial, points, level, found, site_db, band_db),
        points=points,
        line_spread_db=_spread(trial, points, level, lambda one: one.line_share is not None),
        edge_spread_db=_spread(trial, points, level, lambda one: one.name in (AXIS, EDGE)),
        traces=traces,
        coarse_csv=coarse_pattern_csv(trial, points, level),
    )


def _estimate(
    trial: GroundTrial,
    x: FloatArray,
    z: FloatArray,
    level: FloatArray,
    doubt: FloatArray,
    site_db: float,
    band_db: float,
) -> Estimate:
    return estimate(
        trial.prediction,
        _on_ground(x, z),
        Evidence(level, doubt, site_db=site_db, band_db=band_db),
        prior=Prior(len(level), aimed_deg=TURNED_DEG, laid_out=True, width=WIDTH),
    )


def _on_ground(ahead_m: FloatArray, aside_m: FloatArray) -> Points:
    """Microphones that lie on the ground, so that nothing comes back from under them."""
    return Points(ahead_m, aside_m, np.full((len(ahead_m), 2), np.nan))


def coverage(trial: GroundTrial, found: Estimate) -> tuple[Interval | None, Interval | None]:
    """The coverage angle that the draws have, and its ratio to the data's; None where it is not
    told to better than a fifth."""
    if trial.coverage_deg is None:
        return None, None
    kept = found.kept
    angle = coverage_angles(trial, kept)
    even = np.full(len(angle), 1.0 / len(angle))
    interval = quantile_interval(angle, even)
    if interval.high - interval.low > 0.4 * interval.value:
        return None, None
    planned = trial.coverage_deg
    scale = Interval(interval.value / planned, interval.low / planned, interval.high / planned)
    return interval, scale


def coverage_angles(trial: GroundTrial, draws: Draws) -> FloatArray:
    """(d,) between the directions where each draw's design pattern is 6.02 dB under the axis."""
    step = 0.25
    out = np.arange(0.0, 120.0, step)
    total = np.zeros(len(draws))
    for sign in (-1.0, 1.0):
        off = np.broadcast_to(sign * out, (len(draws), len(out)))
        level = trial.prediction.pattern_db(off, draws, mean=True)[..., 0]
        level = level - level[:, :1]
        under = level <= -EDGE_DB
        first = np.where(under.any(axis=1), under.argmax(axis=1), len(out) - 1).clip(1)
        which = np.arange(len(draws))
        above, below = level[which, first - 1], level[which, first]
        share = np.clip((above + EDGE_DB) / np.maximum(above - below, 1e-9), 0.0, 1.0)
        total += out[first - 1] + step * share
    return total


def _turned(found: Estimate | None) -> Interval | None:
    """The axis of the layout lies at minus the tilt of the box in it."""
    if found is None:
        return None
    return found.interval("tilt")


def _headline(
    trial: GroundTrial,
    coverage: Interval | None,
    scale: Interval | None,
    explained: bool | None,
    out: tuple[StandsOut, ...],
) -> str:
    if explained is False:
        where = out[0].position if out else "every position"
        return f"MEASURE {where} AGAIN: what stands there does not fit the rest"
    if coverage is None or scale is None or trial.coverage_deg is None:
        return "The levels cannot tell how wide the pattern is; measure all five positions"
    half = 50.0 * (coverage.high - coverage.low) / coverage.value
    told = (
        f"COVERAGE {coverage.value:.0f}° ±{half:.0f} % ({coverage.low:.0f}° to "
        f"{coverage.high:.0f}°, 90 %); its data say {trial.coverage_deg:.0f}°"
    )
    if scale.holds(1.0):
        return f"{told}: as declared, as far as can be told"
    wide = 100.0 * (scale.value - 1.0)
    return f"{told}: {abs(wide):.0f} % {'wider' if wide > 0.0 else 'narrower'} than its data"


def _verdicts(
    trial: GroundTrial,
    points: tuple[GroundPoint, ...],
    level: FloatArray,
    site_db: float,
    band_db: float,
) -> tuple[Verdict, ...]:
    """One for each rule of the trade that the positions allow."""
    names = [one.name for one in points]
    bands = np.array(trial.bands_hz)
    design = np.array([trial.bands_hz.index(band) for band in trial.design_hz])
    x = np.array([one.ahead_m for one in points])
    z = np.array([one.aside_m for one in points])
    computed = trial.levels_db(x, z)
    found: list[Verdict] = []

    def between(of: str, to: str) -> tuple[FloatArray, FloatArray] | None:
        if of not in names or to not in names:
            return None
        a, b = names.index(of), names.index(to)
        return level[:, a] - level[:, b], computed[:, a] - computed[:, b]

    def agrees(measured: FloatArray, expected: FloatArray, pattern_db: float) -> bool:
        has = np.isfinite(measured)
        away = float(np.mean((measured - expected)[has]))
        noise = np.sqrt(2.0) * np.hypot(site_db, band_db / np.sqrt(has.sum()))
        return bool(abs(away) <= INTERVAL * np.hypot(noise, pattern_db))

    if (pair := between(TWICE, AXIS)) is not None and np.isfinite(pair[0]).any():
        has = np.isfinite(pair[0])
        low, high = float(pair[0][has].min()), float(pair[0][has].max())
        text = f"{signed_text(float(pair[0][has].mean()), ' dB')}"
        even = high - low <= 3.0
        text += (
            " at every frequency"
            if even
            else f", {signed_text(low, '')} to {signed_text(high, ' dB')} by band"
        )
        expected = signed_text(float(pair[1][has].mean()), " dB")
        found.append(
            Verdict(
                "twice the distance",
                f"twice the distance: {text} (computed {expected})",
                agrees(*pair, 0.0) and even,
            )
        )
    for name in (EDGE, OTHER):
        if (pair := between(name, AXIS)) is None or not np.isfinite(pair[0][design]).any():
            continue
        measured, expected = pair[0][design], pair[1][design]
        has = np.isfinite(measured)
        low_hz, high_hz = bands[design][has].min(), bands[design][has].max()
        text = f"{name}: {signed_text(float(measured[has].mean()), ' dB')} at "
        text += f"{_figure(low_hz)} to {band_label(high_hz)}"
        text += f" (computed {signed_text(float(expected[has].mean()), ' dB')})"
        lowest = int(np.flatnonzero(np.isfinite(pair[0]))[0])
        if bands[lowest] < 0.6 * low_hz:
            text += (
                f", {signed_text(float(pair[0][lowest]), ' dB')} at {band_label(bands[lowest])} "
            )
            text += f"(computed {signed_text(float(pair[1][lowest]), ' dB')})"
        found.append(Verdict(name, text, agrees(measured, expected, LIKE_DB)))
    if (pair := between(EDGE, TWICE)) is not None and np.isfinite(pair[0][design]).any():
        measured, expected = pair[0][design], pair[1][design]
        away = float(np.nanmean(measured))
        word = (
            "as loud as"
            if abs(away) < 1.0
            else f"{abs(away):.1f} dB {'over' if away > 0.0 else 'under'}"
        )
        found.append(
            Verdict(
                "edge against far axis",
                f"edge {word} the far axis ({signed_text(away, ' dB')}, computed "
                f"{signed_text(float(expected.mean()), ' dB')})",
                agrees(measured, expected, LIKE_DB),
            )
        )
    found += _line_verdict(trial, points, level, design, agrees)
    return tuple(found)


def _figure(band_hz: float) -> str:
    """A band without its unit."""
    return band_label(band_hz).removesuffix(" Hz").removesuffix(" kHz")


def _line_verdict(
    trial: GroundTrial,
    points: tuple[GroundPoint, ...],
    level: FloatArray,
    design: FloatArray,
    agrees: Any,
) -> list[Verdict]:
    on = [n for n, one in enumerate(points) if one.line_share is not None]
    between = [n for n in on if 0.0 < (points[n].line_share or 0.0) < 1.0]
    if len(on) < 3 or not between or not len(trial.line_db):
        return []
    mean = level[design][:, on].mean(axis=0)
    if not np.isfinite(mean).all():
        return []
    top = float(trial.line_db.max() - max(trial.line_db[0], trial.line_db[-1]))
    share = float(np.linspace(0.0, 1.0, len(trial.line_db))[int(np.argmax(trial.line_db))])
    ends = [n for n in on if n not in between]
    low = mean[[on.index(n) for n in (ends or on)]].mean()
    expected = np.interp([points[n].line_share or 0.0 for n in between],
                         np.linspace(0.0, 1.0, len(trial.line_db)), trial.line_db)  # fmt: skip
    measured = mean[[on.index(n) for n in between]] - low
    return [
        Verdict(
            "along the line",
            f"along the line between them: within {float(np.ptp(mean)):.1f} dB, "
            f"{float(measured.max()):.1f} dB louder between its ends (computed {top:.1f} dB, "
            f"most at {share:.2f} of the way from the edge)",
            agrees(measured, np.asarray(expected), LIKE_DB),
        )
    ]


def _spread(
    trial: GroundTrial, points: tuple[GroundPoint, ...], level: FloatArray, of: Any
) -> dict[float, float | None]:
    """By band, loudest minus softest of the positions that are meant."""
    which = [n for n, one in enumerate(points) if of(one)]
    if len(which) < 2:
        return {}
    return by_band(trial.bands_hz, np.ptp(level[:, which], axis=1))


def _positions(
    trial: GroundTrial,
    points: tuple[GroundPoint, ...],
    level: FloatArray,
    found: Estimate | None,
    site_db: float,
    band_db: float,
) -> tuple[PositionFound, ...]:
    x = np.array([one.ahead_m for one in points])
    z = np.array([one.aside_m for one in points])
    planned = shifted(trial.levels_db(x, z), level, np.zeros(len(x), dtype=np.intp))
    fitted = np.full(level.shape, np.nan)
    doubt = np.full(level.shape, np.nan)
    design = [trial.bands_hz.index(band) for band in trial.design_hz]
    noise = float(np.hypot(site_db, band_db))
    if found is not None:
        heard = trial.prediction.levels_db(_on_ground(x, z), found.kept)
        heard = heard - median(heard - level[design])[..., np.newaxis]
        fitted[design] = heard.mean(axis=0)
        doubt[design] = INTERVAL * np.hypot(heard.std(axis=0), noise)
    off = (level - planned)[design]
    return tuple(
        PositionFound(
            name=one.name,
            x_m=one.ahead_m,
            z_m=one.aside_m,
            distance_m=one.distance_m,
            off_axis_deg=one.off_axis_deg,
            measured_db=by_band(trial.bands_hz, level[:, n]),
            predicted_db=by_band(trial.bands_hz, planned[:, n]),
            found_db=by_band(trial.bands_hz, fitted[:, n]),
            doubt_db=by_band(trial.bands_hz, doubt[:, n]),
            stands_out=tuple(
                band
                for k, band in enumerate(trial.bands_hz)
                if abs(level[k, n] - fitted[k, n]) > STANDS_OUT * noise
            ),
            off_db=float(np.nanmean(off[:, n])) if np.isfinite(off[:, n]).any() else None,
        )
        for n, one in enumerate(points)
    )


def coarse_pattern_csv(
    trial: GroundTrial, points: tuple[GroundPoint, ...], level: FloatArray
) -> str:
    """What the trial says of the pattern, as a pattern file: the axis and the directions measured.

    Spreading and air are taken out; positions in one direction are averaged in dB.  A few
    directions are a check, not a pattern to aim with.  "" where the axis, or every other direction,
    was not measured.
    """
    distance = np.array([one.distance_m for one in points])
    freed = level + loss_db(distance, trial.air_loss)
    angle = np.round([one.off_axis_deg for one in points], 3)
    directions = np.unique(angle)
    if 0.0 not in directions or len(directions) < 2:
        return ""
    table = np.array([freed[:, angle == one].mean(axis=1) for one in directions])
    table -= table[directions == 0.0]
    has = np.isfinite(table).any(axis=0)
    lines = [
        f"# coarse check of {trial.speaker} on the ground at {trial.distance_m:g} m: "
        f"{len(directions)} directions only, no pattern to aim with",
        "angle_deg," + ",".join(f"{band:g}" for band in np.array(trial.bands_hz)[has]),
    ]
    for one, levels in zip(directions, table, strict=True):
        cells = [f"{level:.2f}" if np.isfinite(level) else "" for level in levels[has]]
        lines.append(f"{one:g}," + ",".join(cells))
    return "\n".join(lines) + "\n"
