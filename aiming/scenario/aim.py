"""What counts as best, tolerance, programme, thresholds: their keys, rules and construction."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Any, Literal

import numpy as np
from pydantic import Field, create_model

from ..aim.tolerance import Tolerance
from ..base.bands import DEFAULT_DESIGN_HZ, OCTAVES_HZ, THIRDS_HZ, band_key
from ..base.errors import found_text
from .keys import BandHz, Length, Name, Number, Point, PositiveLength, Strict
from .raw import Gathered, Problem, Raw, number, pair, table_in
from .scenario import SOFTEST_DB, CautionSettings, Scenario
from .thresholds import BY_KEY


class ToleranceModel(Strict):
    """What hanging leaves uncertain, either way; what is not given counts as exact."""

    tilt: Annotated[Number, Field(ge=0.0, le=45.0)] = Field(
        0.0, description="Degrees that the tilt may be off, either way"
    )
    height: Annotated[Length, Field(ge=0.0, le=100.0)] = Field(
        0.0, description="How far the acoustic centre may hang too high or too low"
    )
    x: Annotated[Length, Field(ge=0.0, le=100.0)] = Field(
        0.0, description="How far the acoustic centre may be off towards or away from the audience"
    )
    coverage_percent: Annotated[Number, Field(ge=0.0, le=50.0)] = Field(
        0.0, description="How far a coverage angle by data sheet may be off, in % of it, either way"
    )


class ProgrammeModel(Strict):
    """What is played: its spectrum, and the level wanted at every row."""

    spectrum: Literal["pink", "speech 2011", "speech 2020"] = Field(
        "pink",
        description='"pink" (default), or male speech by IEC 60268-16 of that year: '
        '"speech 2011", "speech 2020"',
    )
    target_db: Annotated[Number, Field(ge=0.0, le=200.0)] | None = Field(
        None, description="Level wanted at every row, dB; headroom is counted from it"
    )
    weighting: Literal["A", "Z"] = Field(
        "A", description='Weighting of target_db: "A" (default, IEC 61672-1), or "Z" for none'
    )


class _Beside(Strict):
    """Thresholds of the cautions, where they are not to be the usual ones of docs/cautions.md."""

    stage_focus: Point | None = Field(
        None, description="[x, z] of the foot of what the audience looks at; default the datum"
    )
    level_limit_db: Annotated[Number, Field(ge=0.0, le=200.0)] | None = Field(
        None, description="A-weighted level that no row is to pass, dB; none unless given"
    )
    level_limit_name: Name | None = Field(
        None, description="Where that limit holds: the rule, the place, the averaging time"
    )


def _threshold_fields() -> dict[str, Any]:
    """A key for every threshold that a scenario can move, as scenario.thresholds declares it."""
    fields: dict[str, Any] = {}
    for key, limit in BY_KEY.items():
        assert limit.span is not None
        low, high = limit.span
        kind: Any = Annotated[Number, Field(ge=low, le=high)]
        if limit.unit == "m":
            kind = PositiveLength
        said = f"{limit.text[0].upper()}{limit.text[1:]}; default {limit.value:g} {limit.unit}"
        fields[key] = (kind | None, Field(None, description=said))
    return fields


if TYPE_CHECKING:
    CautionsModel = _Beside
else:
    CautionsModel = create_model(
        "CautionsModel", __base__=_Beside, __doc__=_Beside.__doc__, **_threshold_fields()
    )


# The worst case within a tolerance needs a tolerance.

ALLOWED = 'give a tolerance with it, as { tilt = 1.0, height = "0.1 m", x = "0.1 m" }'


def tolerance_rules(raw: Raw) -> Iterator[Problem]:
    """objective_at = "worst" goes with a tolerance that leaves something uncertain."""
    aim = table_in(raw.document, "aim")
    if aim.get("objective_at") != "worst":
        return
    given = aim.get("tolerance")
    if given is None:
        yield ("aim", "objective_at"), f'"worst" without a tolerance; {ALLOWED}'
    elif isinstance(given, dict) and all(raw.length(size) == 0.0 for size in given.values()):
        yield ("aim", "tolerance"), f'a tolerance of nothing for "worst"; {ALLOWED}'


class AimModel(Strict):
    """What counts as best, and how well it must be proven."""

    bands: Annotated[list[BandHz], Field(min_length=1)] = Field(
        default_factory=lambda: list(DEFAULT_DESIGN_HZ),
        description="Design bands, nominal mid-bands in Hz; default the octaves 1 to 8 kHz",
    )
    tone_bands: Annotated[list[BandHz], Field(min_length=1)] | None = Field(
        None,
        description="Bands of interest for tone, where the pattern holds them; default the "
        "octaves 125 Hz to 8 kHz (thirds where the design bands are), and the design bands",
    )
    objective: Literal["spread", "worst band", "deviation"] = Field(
        "spread", description='What is made small: "spread" (default), "worst band", "deviation"'
    )
    axis_on_audience: bool | Literal["any"] = Field(
        True,
        description="Whether the axis must meet a seating that this loudspeaker serves (default "
        'true), or "any", whoever serves it',
    )
    max_front_elevation_deg: Annotated[Number, Field(ge=-90.0, le=90.0)] | None = Field(
        None,
        description="The acoustic centre is seen at most this high above the horizontal from the "
        "served row nearest to the focus",
    )
    gap_db: Annotated[Number, Field(ge=1e-6, le=100.0)] = Field(
        0.05, description="The best is proven to within this, dB of the objective"
    )
    lower_if_within_db: Annotated[Number, Field(ge=0.0, le=100.0)] = Field(
        0.5,
        description="Of all placements this close to the best the lowest is taken; 0 takes the "
        "best itself",
    )
    left_to_fill: Annotated[int, Field(ge=0)] | Literal["knee"] = Field(
        0,
        description="Front rows left to a front fill, out of objective, spread and shares; "
        '"knee": as many as gain at least 0.5 dB each',
    )
    softest_db: Annotated[Number, Field(ge=-100.0, le=20.0)] | Literal["off"] | None = Field(
        None,
        description="Least design level of a served row against what the box would give the last "
        'row with its axis on it; default -6 where a placement can keep it; "off" for none',
    )
    tolerance: ToleranceModel | None = Field(
        None,
        description="How far it may be off as it hangs: { tilt, height, x, coverage_percent }",
    )
    objective_at: Literal["placement", "worst"] = Field(
        "placement",
        description='Where the objective is taken: at the "placement" itself (default), or at its '
        '"worst" case within the tolerance',
    )


def check_left_to_fill(scenario: Scenario, gathered: Gathered) -> None:
    """Every loudspeaker keeps a row: what leaves all of them to a fill serves nobody."""
    count = scenario.aim.left_to_fill
    if not isinstance(count, int):
        return
    for speaker in scenario.speakers:
        rows = scenario.rows.of(speaker.serves)
        front = scenario.front_rows(speaker.name)
        if np.isin(rows, front[:count]).all():
            most = next(n for n in range(count, -1, -1) if not np.isin(rows, front[:n]).all())
            text = f"{count}, every row that {speaker.name} serves; may be {most} at most"
            gathered.problems.append((("aim", "left_to_fill"), text))
            return


def build_softest_db(given: float | str | None) -> float | None:
    if given is None:
        return SOFTEST_DB
    return given if isinstance(given, float) else None


def build_tolerance(table: AimModel) -> Tolerance | None:
    given = table.tolerance
    if given is None:
        return None
    return Tolerance(
        tilt_deg=given.tilt,
        height_m=given.height,
        x_m=given.x,
        coverage_percent=given.coverage_percent,
    )


def build_cautions(table: CautionsModel) -> CautionSettings:
    beside = {"stage_focus", "level_limit_db", "level_limit_name"}
    given = table.model_dump(exclude=beside, exclude_none=True)
    return CautionSettings(
        thresholds=given,
        stage_focus_m=pair(table.stage_focus) or (0.0, 0.0),
        level_limit_db=table.level_limit_db,
        level_limit_name=table.level_limit_name or "",
    )


def design_bands(raw: Raw) -> list[float]:
    given = table_in(raw.document, "aim").get("bands", list(DEFAULT_DESIGN_HZ))
    return [band for band in given if band in THIRDS_HZ] if isinstance(given, list) else []


def level_limit_rules(raw: Raw) -> Iterator[Problem]:
    """A limit of level, and where it holds."""
    limits = table_in(raw.document, "cautions")
    for one, other in (
        ("level_limit_db", "level_limit_name"),
        ("level_limit_name", "level_limit_db"),
    ):
        if limits.get(one) is not None and limits.get(other) is None:
            yield ("cautions", one), f"{one} without {other}; give both, or none"


def band_rules(raw: Raw) -> Iterator[Problem]:
    aim = table_in(raw.document, "aim")
    design = design_bands(raw)
    octaves = bool(design) and all(band in OCTAVES_HZ for band in design)
    for key in ("bands", "tone_bands"):
        given = aim.get(key)
        seen: list[object] = []
        for position, band in enumerate(given if isinstance(given, list) else []):
            if band in seen and number(band) is not None:
                yield ("aim", key, position), f"{found_text(band)} again; give each band once"
            elif key == "tone_bands" and octaves and band in THIRDS_HZ and band not in OCTAVES_HZ:
                yield (
                    ("aim", key, position),
                    f"{band_key(band)}, a third octave; must be an octave mid-band, as the "
                    "design bands are octaves",
                )
            seen.append(band)
