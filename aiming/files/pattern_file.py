"""One way in: a path, a pattern out."""

from dataclasses import replace
from pathlib import Path

from ..base.arrays import FloatArray
from ..base.bands import Width
from ..base.regular_file import open_ordinary
from .aes69 import read_sofa
from .banding import BandPlan, band_levels_db, plan_bands
from .pattern_csv import read_csv
from .pattern_result import PatternFile, Place
from .pattern_table import as_pattern_file, check_bands

HDF5_SIGNATURE = b"\x89HDF\r\n\x1a\n"


def read_pattern(
    path: Path,
    *,
    bands_hz: tuple[float, ...] | None = None,
    also_hz: tuple[float, ...] = (),
    width: Width | None = None,
    display: str,
) -> PatternFile:
    """The vertical pattern in a CSV table or an AES69 file, 0 dB on axis in every band.

    bands_hz: nominal mid-bands wanted, in this order; None takes every band that the file holds
    also_hz: further bands, taken after those where the file holds them
    width: of the bands; None takes octaves where every band is an octave mid-band, else thirds
    display: the file as the person named it, for messages

    Raises ScenarioError with every fault found (an AES69 file is binary, so its line is 1), and
    MissingExtraError where an AES69 file is met without h5py.
    """
    place = Place(display)
    try:
        with open_ordinary(path) as file:
            start = file.read(len(HDF5_SIGNATURE))
    except FileNotFoundError:
        place.refuse("file", "found no such file; must be a CSV table or an AES69 (SOFA) file")
    except OSError as error:
        place.refuse("file", f"found {error.strerror or error}; must be a file that can be read")

    if path.suffix.lower() == ".toml":
        place.refuse(
            "file", "found a TOML file, as scenarios are; name a CSV table or an AES69 file"
        )

    def plan(frequency_hz: FloatArray) -> BandPlan:
        return plan_bands(frequency_hz, bands_hz=bands_hz, also_hz=also_hz, width=width)

    if start == HDF5_SIGNATURE or path.suffix.lower() == ".sofa":
        return read_sofa(path, place=place, plan=plan)
    table = read_csv(path, place=place)
    bands = plan(table.frequency_hz)
    check_bands(bands, table.frequency_hz, replace(place, line=table.header_line))
    found, _ = as_pattern_file(
        table.angle_deg,
        band_levels_db(table.level_db, bands),
        plan=bands,
        frequency_hz=table.frequency_hz,
        directions=len(table.angle_deg),
        notes=table.notes,
        reference=f"{display} ({table.comment})" if table.comment else display,
        place=replace(place, line=table.axis_line),
    )
    return found
