"""The whole file: its table of tables, all rules, and the scenario built from it."""

from collections.abc import Callable, Iterator
from itertools import chain, islice
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from ..base.air import Air
from ..base.errors import found_text
from ..geometry.section import rows_of
from ..speaker.speaker import Speaker
from .aim import (
    AimModel,
    CautionsModel,
    ProgrammeModel,
    band_rules,
    build_cautions,
    build_softest_db,
    build_tolerance,
    check_left_to_fill,
    level_limit_rules,
    tolerance_rules,
)
from .air import AirModel, OutdoorsModel, air_notes, weather_of
from .groups import (
    TimeModel,
    TogetherModel,
    build_company,
    company_rules,
    hung_within,
    playing,
    without_rules,
)
from .keys import Name, Point, Strict, suggestion
from .raw import Gathered, Problem, Raw, table_in, tables_in, texts
from .rigging import build_rigging, order_notes
from .scenario import (
    AimSettings,
    Pan,
    ProgrammeSettings,
    Scenario,
    Variant,
)
from .seating import (
    DatumModel,
    FocusModel,
    PointModel,
    SeatingModel,
    SurfaceModel,
    build_focus,
    build_points,
    build_seatings,
    build_surfaces,
    line_rules,
    source_rules,
)
from .speaker import SpeakerModel, build_speaker, speaker_rules
from .stack import build_stacks

if TYPE_CHECKING:
    from ..files.pattern_result import PatternFile


class VariantModel(Strict):
    """A named set of changes to this scenario."""

    name: Name = Field(description="The variant's name, unlike any other's")
    set: dict[str, Any] = Field(
        default_factory=dict,
        description="Dotted key and new value, members of a table array by name",
    )


def _layout(version: object) -> object:
    if version != 1:
        raise ValueError(f"{found_text(version)}; must be 1, the version that this program reads")
    return version


class ScenarioModel(Strict):
    """An aiming scenario, version 1."""

    schema_version: Annotated[Literal[1], BeforeValidator(_layout)] = Field(
        1, alias="schema", description="Version of this file's layout, 1"
    )
    title: Name | None = Field(None, description="What this section is; default the file's name")
    units: Literal["m", "ft"] = Field("m", description="What a bare length means")
    datum: DatumModel = Field(default_factory=dict, validate_default=True, description="The origin")
    air: AirModel = Field(default_factory=dict, validate_default=True, description="The air")
    outdoors: OutdoorsModel | None = Field(
        None, description="Present where the section is outdoors"
    )
    drawing_units: Name | None = Field(
        None, description="Unit of the drawings; takes precedence over what they say themselves"
    )
    drawing_origin: Point | None = Field(
        None, description="Where the datum lies in the drawings, [x, y] as lengths"
    )
    drawing_mirrored: bool = Field(
        False, description="True where the drawings' audience sits to the left of the datum"
    )
    seating: Annotated[list[SeatingModel], Field(min_length=1)] = Field(
        description="Blocks of rows, at least one"
    )
    surface: list[SurfaceModel] = Field(default_factory=list, description="Solid edges")
    point: list[PointModel] = Field(
        default_factory=list, description="Places to watch: a stage microphone, a neighbour"
    )
    focus: FocusModel | None = Field(None, description="What every row is to see")
    speaker: Annotated[list[SpeakerModel], Field(min_length=1)] = Field(
        description="Loudspeakers, at least one"
    )
    aim: AimModel = Field(
        default_factory=dict, validate_default=True, description="What counts as best"
    )
    cautions: CautionsModel = Field(
        default_factory=dict,
        validate_default=True,
        description="Thresholds of the cautions",
    )
    programme: ProgrammeModel | None = Field(
        None, description="What is played, and how loud it is wanted"
    )
    together: TogetherModel = Field(
        default_factory=dict,
        validate_default=True,
        description="How the loudspeakers' levels add up",
    )
    time: TimeModel | None = Field(None, description="What arrivals are counted from")
    variant: list[VariantModel] = Field(default_factory=list, description="Named sets of changes")


# Names: each one once, and each reference to something that is there.

NAMED = {
    "seating": "seating",
    "surface": "surface",
    "point": "point",
    "speaker": "loudspeaker",
    "variant": "variant",
}
PICKS_OF_METHOD = {"two points": (2, 2), "one point": (1, 2), "pull-back": (2, 2)}

UNKNOWN_FORCES = (
    ", since statics give two equations for lines in one plane: how more of them share the load "
    "depends on their stretch and length, and cannot be computed"
)


def name_rules(raw: Raw) -> Iterator[Problem]:
    """Duplicate names, and references that name nothing."""
    for key, thing in NAMED.items():
        seen: set[str] = set()
        for path, table in raw.tables(key):
            name = table.get("name")
            if not isinstance(name, str):
                continue
            if name in seen:
                yield (*path, "name"), f"{found_text(name)} again; give each {thing} its own name"
            seen.add(name)
    yield from _row_names(raw)
    seatings = [
        name for _, one in raw.tables("seating") if isinstance(name := one.get("name"), str)
    ]
    for path, speaker in raw.tables("speaker"):
        if speaker.get("serves") == []:
            yield (
                (*path, "serves"),
                "a list of 0; name at least one seating, or leave serves out for all",
            )
        served: set[str] = set()
        for position, name in texts(speaker.get("serves")):
            if name not in seatings:
                yield (
                    (*path, "serves", position),
                    f"no seating {found_text(name)}; {suggestion(name, seatings)}",
                )
            elif name in served:
                yield (
                    (*path, "serves", position),
                    f"{found_text(name)} again; name each seating once",
                )
            served.add(name)
        yield from _picks(path, speaker, raw)


def _row_names(raw: Raw) -> Iterator[Problem]:
    for path, seating in raw.tables("seating"):
        names = texts(seating.get("row_names"))
        seen: set[str] = set()
        for position, name in names:
            if name in seen:
                yield (
                    (*path, "row_names", position),
                    f"{found_text(name)} again; give each row its own name",
                )
            seen.add(name)


def _picks(path: tuple[str | int, ...], speaker: dict[str, object], raw: Raw) -> Iterator[Problem]:
    """Picks of one cabinet, and the rigging that names them."""
    cabinet = table_in(speaker, "cabinet")
    known: list[str] = []
    places: dict[tuple[float, float], str] = {}
    for pick_path, pick in tables_in(cabinet.get("picks"), (*path, "cabinet", "picks")):
        name = pick.get("name")
        if isinstance(name, str):
            if name in known:
                yield (*pick_path, "name"), f"{found_text(name)} again; give each pick its own name"
            known.append(name)
        at = raw.point(pick.get("at"))
        if at is not None:
            if at in places:
                yield (
                    (*pick_path, "at"),
                    f"the same point as pick {found_text(places[at])}; each needs its own point",
                )
            places.setdefault(at, str(name))
    rigging = table_in(speaker, "rigging")
    for orientation in ("upright", "flipped"):
        held = table_in(rigging, orientation)
        used = texts(held.get("picks"))
        here = (*path, "rigging", orientation)
        for position, name in used:
            if name not in known:
                yield (
                    (*here, "picks", position),
                    f"no pick {found_text(name)}; {suggestion(name, known)}",
                )
            elif name in [other for _, other in used[:position]]:
                yield (*here, "picks", position), f"{found_text(name)} again; name each pick once"
        method = held.get("method")
        if isinstance(method, str) and method in PICKS_OF_METHOD:
            least, most = PICKS_OF_METHOD[method]
            if not least <= len(used) <= most:
                allowed = f"{most}" if least == most else f"{least} or {most}"
                why = UNKNOWN_FORCES if len(used) > most else ""
                yield (
                    (*here, "picks"),
                    f"a list of {len(used)}; must have {allowed} for {found_text(method)}{why}",
                )


# What the models cannot know: geometry, names, and keys that exclude or need one another.
#
# Rules run over the plain document, whether or not the models accept it, so that all faults of a
# file are told at once.  Each is a generator of (path, "found; allowed").

MOST_PROBLEMS = 1000
RULES: tuple[Callable[[Raw], Iterator[Problem]], ...] = (
    line_rules,
    name_rules,
    source_rules,
    band_rules,
    speaker_rules,
    level_limit_rules,
    tolerance_rules,
    company_rules,
    without_rules,
)


def rule_problems(raw: Raw) -> list[Problem]:
    """Every fault that a rule finds; of a file with absurdly many, the first MOST_PROBLEMS."""
    return list(islice(chain.from_iterable(rule(raw) for rule in RULES), MOST_PROBLEMS))


# From the checked models to the scenario.


def build(
    model: ScenarioModel, gathered: Gathered, *, file: str, document: dict[str, Any], text: str
) -> Scenario | None:
    """The scenario; None where a file that it names gave faults, which are then in gathered."""
    air = Air(model.air.temperature_c, model.air.humidity_percent, model.air.pressure_kpa)
    bands_hz = tuple(sorted(model.aim.bands))
    gathered.notes.extend(air_notes(air, bands_hz))
    seatings = build_seatings(model, gathered)
    surfaces = build_surfaces(model, gathered)
    speakers: list[Speaker] = []
    pattern_files: dict[str, PatternFile] = {}
    tables = playing(model)
    for index, table in tables:
        speaker, measured = build_speaker(
            table,
            path=("speaker", index),
            seatings=seatings,
            bands_hz=bands_hz,
            tone_hz=None if model.aim.tone_bands is None else tuple(sorted(model.aim.tone_bands)),
            gathered=gathered,
        )
        if speaker is not None:
            speakers.append(speaker)
        if measured is not None:
            pattern_files[table.name] = measured
        gathered.notes.extend(order_notes(table))
    if not gathered.clean:
        return None
    rows = rows_of(seatings)
    company = build_company(model, rows, gathered)
    if not gathered.clean:
        return None
    scenario = Scenario(
        title=model.title or ("untitled" if file == "-" else FilePath(file).stem),
        file=file,
        folder=gathered.folder,
        units=model.units,
        datum=model.datum.name,
        air=air,
        seatings=seatings,
        rows=rows,
        surfaces=surfaces,
        points=build_points(model),
        focus=build_focus(model),
        speakers=hung_within(speakers, company),
        company=company,
        aim=AimSettings(
            bands_hz=bands_hz,
            objective=model.aim.objective,
            axis_on_audience=model.aim.axis_on_audience is not False,
            axis_on_any=model.aim.axis_on_audience == "any",
            gap_db=model.aim.gap_db,
            lower_if_within_db=model.aim.lower_if_within_db,
            tolerance=build_tolerance(model.aim),
            at_worst=model.aim.objective_at == "worst",
            max_front_elevation_deg=model.aim.max_front_elevation_deg,
            left_to_fill=model.aim.left_to_fill,
            softest_db=build_softest_db(model.aim.softest_db),
            softest_stated=model.aim.softest_db is not None,
        ),
        rigging={table.name: held for _, table in tables if (held := build_rigging(table))},
        stacks=build_stacks(model),
        cautions=build_cautions(model.cautions),
        outdoors=model.outdoors is not None,
        gust_speed_m_s=None if model.outdoors is None else model.outdoors.gust_speed,
        weather=weather_of(model),
        base_m={
            table.name: table.placement.base
            for _, table in tables
            if table.placement.base is not None
        },
        pans={
            table.name: Pan(table.placement.pan_deg, table.placement.off_centre)
            for _, table in tables
            if (table.placement.pan_deg, table.placement.off_centre) != (None, None)
        },
        pattern_files=pattern_files,
        variants=tuple(Variant(one.name, dict(one.set)) for one in model.variant),
        notes=tuple(gathered.notes),
        survey_notes=tuple(gathered.survey_notes),
        programme=None
        if model.programme is None
        else ProgrammeSettings(
            spectrum=model.programme.spectrum,
            target_db=model.programme.target_db,
            weighting=model.programme.weighting,
        ),
        document=document,
        text=text,
    )
    check_left_to_fill(scenario, gathered)
    return scenario if gathered.clean else None
