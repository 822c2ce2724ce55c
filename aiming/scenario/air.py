"""The air and the weather: keys and construction."""

from typing import TYPE_CHECKING, Annotated

from pydantic import Field

from ..base.air import Air, stated_accuracy_percent
from ..base.bands import band_label, exact_midband_hz
from .keys import NotNegative, Number, PositiveLength, Strict
from .scenario import Weather

if TYPE_CHECKING:
    from .root import ScenarioModel


class AirModel(Strict):
    """The air between loudspeaker and audience."""

    temperature_c: Annotated[Number, Field(gt=-100.0, le=100.0)] = Field(
        20.0, description="Air temperature in °C"
    )
    humidity_percent: Annotated[Number, Field(ge=0.0, le=100.0)] = Field(
        50.0, description="Relative humidity in %, 0 to 100"
    )
    pressure_kpa: Annotated[Number, Field(ge=1.0, le=1000.0)] = Field(
        101.325, description="Air pressure in kPa"
    )


class OutdoorsModel(Strict):
    """Present where the section is outdoors."""

    gust_speed: NotNegative | None = Field(
        None, description="Wind speed in m/s, gusts included, that everything must stand"
    )
    wind_speed: Annotated[Number, Field(ge=-50.0, le=50.0)] | None = Field(
        None,
        description="Mean wind along the section in m/s, positive towards the audience; with it "
        "the answer says how far sound bends",
    )
    wind_height: PositiveLength = Field(
        10.0, description="Height over the ground at which wind_speed is meant; default 10 m"
    )
    temperature_gradient: Annotated[Number, Field(ge=-1.0, le=1.0)] | None = Field(
        None,
        description="Change of the air's temperature with height in °C per metre, negative where "
        "the ground is warmer than the air above",
    )


def air_notes(air: Air, bands_hz: tuple[float, ...]) -> list[str]:
    """Bands whose air absorption is known less well than the standard's best."""
    accuracy = {band: stated_accuracy_percent(exact_midband_hz(band), air) for band in bands_hz}
    notes = []
    for percent in sorted({value for value in accuracy.values() if value > 10.0}):
        bands = ", ".join(band_label(band) for band in bands_hz if accuracy[band] == percent)
        notes.append(
            f"air absorption at {bands}: outside the range in which ISO 9613-1 states ±10 %; "
            f"there ±{percent:g} %"
        )
    return notes


def weather_of(model: "ScenarioModel") -> Weather | None:
    given = model.outdoors
    if given is None or (given.wind_speed is None and given.temperature_gradient is None):
        return None
    return Weather(
        wind_speed_m_s=given.wind_speed or 0.0,
        wind_height_m=given.wind_height,
        temperature_gradient_c_m=given.temperature_gradient or 0.0,
    )
