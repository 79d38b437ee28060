"""What kinds of value the keys of files may hold: text taken by the converters of `scalars`, then checked by pydantic.

The dataclasses of `model.py` are put together from these types; what they refuse is worded by `messages`.
"""

from __future__ import annotations

import datetime as dt
import re
import typing
from collections.abc import Callable, Iterator
from functools import cache, partial
from typing import Annotated, Any, TypeVar, get_args

from pydantic import (
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    ValidationError,
    ValidationInfo,
    model_validator,
)
from pydantic.dataclasses import dataclass
from pydantic_core import ArgsKwargs, CoreSchema, InitErrorDetails, PydanticCustomError, core_schema

from pipeline.inputs import scalars
from pipeline.inputs.bounds import LONGEST_LIST, NARROWEST_BEAM_DEG
from pipeline.inputs.free_days import holiday_code
from pipeline.inputs.operator_words import words_table
from pipeline.inputs.scalars import Refusal
from pipeline.inputs.yaml_tree import Place

# In the program fields go by their own names, in files by the keys (`from`, `to`).
CONFIG = ConfigDict(
    extra="forbid",
    frozen=True,
    str_strip_whitespace=True,
    arbitrary_types_allowed=True,
    validate_by_name=True,
    validate_by_alias=True,
)
# Begins what no key of a file can: names of fields that the reader fills, and of the choices between two types.
UNWRITTEN = "\0"
WORD, GROUP = UNWRITTEN + "word", UNWRITTEN + "group"
EMPTY = "{here} is empty; give it a value or leave it out."


def told(*faults: tuple[Place, str]) -> ValidationError:
    """Faults in whole sentences, each at a place below the value that is checked; to be raised.

    A sentence may hold `{here}`, the dotted place, `{around}`, that of what holds it, `{value}` as it is written, and
    `{line 3}`, the line of the entry with index 3 of the same list.
    """
    lines = [InitErrorDetails(type=PydanticCustomError("told", text), loc=at, input=None) for at, text in faults]
    return ValidationError.from_exception_data("told", lines)


def fields_of(cls: Any) -> dict[str, tuple[str, Any]]:
    """Keys that a file may hold for a dataclass, each with its field's name and type."""
    return _fields_of(cls)


@cache
def _fields_of(cls: Any) -> dict[str, tuple[str, Any]]:
    """The same, worked out once (a cached function hides its argument's type from the checker)."""
    hints = typing.get_type_hints(cls, include_extras=True)
    keys = {name: field.alias or name for name, field in cls.__pydantic_fields__.items()}
    return {key: (name, hints[name]) for name, key in keys.items() if not key.startswith(UNWRITTEN)}


def inside(hint: Any) -> Iterator[Any]:
    """A type, and all types and notes that it is put together from."""
    yield hint
    for part in get_args(hint):
        yield from inside(part)


@dataclass(config=CONFIG)
class Keys:
    """What stands in a file as keys and values; a key without a value is an absent one."""

    @model_validator(mode="before")
    @classmethod
    def given(cls, value: Any) -> Any:
        """The keys that have a value, and the unknown ones."""
        if isinstance(value, dict):
            known = fields_of(cls)
            return {key: entry for key, entry in value.items() if entry != "" or key not in known}
        if isinstance(value, (ArgsKwargs, cls)):
            return value
        if value == "":
            raise told(((), EMPTY))
        example = ", ".join(f"{key}: ..." for key in list(fields_of(cls))[:2])
        raise Refusal(f"keys and values are meant, such as {{{example}}}.")


def single(convert: Callable[[str], Any], value: Any) -> Any:
    """One value from its text; what is no text and no group of them was converted before."""
    if value == "":
        raise told(((), EMPTY))
    if isinstance(value, (dict, list)):
        raise Refusal("one value is meant.")
    return convert(value) if isinstance(value, str) else value


def text_by(convert: Callable[[str], Any]) -> BeforeValidator:
    """A converter of text as a step before pydantic's own."""
    return BeforeValidator(partial(single, convert))


class AnyCase:
    """Marks some words, one of which is meant, letter case aside."""

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        convert = partial(single, partial(choice, get_args(source)))
        return core_schema.no_info_before_validator_function(convert, handler(source))


def choice(words: tuple[str, ...], text: str) -> str:
    """One of some words."""
    for word in words:
        if word.casefold() == text.casefold():
            return word
    known = words_table()["choices"]
    meant = next((word for word in words if text.casefold() in known.get(word, ())), None)
    if not meant:
        parts = re.split(r"[\s,;/()+-]+", text.casefold())
        among = {
            word for word in words for part in parts if len(part) > 2 and (part == word or part in known.get(word, ()))
        }
        meant = among.pop() if len(among) == 1 else None
    if meant:
        raise Refusal(f"write {meant}.")
    raise Refusal(scalars.LEAVE_OUT if scalars.is_unknown(text) else scalars.suggestion(text, words))


def word_or_group(value: Any) -> str:
    """Which of two ways of writing a value is meant, by its shape."""
    return WORD if isinstance(value, str) else GROUP


def entries(value: Any) -> Any:
    """A list, or one value standing for a list of one."""
    if not isinstance(value, (list, tuple)):
        return [value]
    if len(value) > LONGEST_LIST:
        raise Refusal(f"at most {LONGEST_LIST} entries are taken.")
    return value


def one_line(value: Any, info: ValidationInfo) -> Any:
    """Text of a file in one line; pages and mails escape what the program itself puts together."""
    return value if info.context is None else single(scalars.words, value)


def band_key(text: str) -> str:
    """A band that heads its equipment."""
    try:
        return scalars.band_name(text)
    except Refusal as refusal:
        raise told(((), f"unknown band {{value}} in {{around}}; {refusal.advice}")) from None


def in_band(value: Any, info: ValidationInfo) -> Any:
    """A frequency within the band that the field before it names."""
    return single(lambda text: scalars.frequency(text, info.data.get("band") or None), value)


T = TypeVar("T")
Many = Annotated[tuple[T, ...], BeforeValidator(entries)]
Number = Annotated[float, text_by(scalars.number)]
Whole = Annotated[int, text_by(scalars.whole_number)]
Truth = Annotated[bool, text_by(scalars.truth)]
Words = Annotated[str, BeforeValidator(one_line)]
Text = Annotated[Words, Field(min_length=1, max_length=200)]
Clock = Annotated[dt.time, text_by(scalars.time_of_day)]
Day = Annotated[dt.date, text_by(scalars.date)]
Weekday = Annotated[scalars.Weekday, text_by(scalars.weekday)]
Month = Annotated[str, text_by(scalars.month)]
Call = Annotated[str, text_by(scalars.call_sign), Field(examples=["QM7TOR"])]
Mail = Annotated[str, text_by(scalars.mail_address), Field(examples=["ines@basalt-tor.example"])]
Zone = Annotated[str, text_by(scalars.time_zone)]
Language = Annotated[str, text_by(scalars.language)]
Holidays = Annotated[str, text_by(holiday_code)]
BandKey = Annotated[str, text_by(band_key)]
BandName = Annotated[str, text_by(scalars.band_name), Field(examples=["3cm"])]
BandIfAny = Annotated[str, BeforeValidator(lambda value: value if value == "" else single(scalars.band_name, value))]
ModeName = Annotated[str, text_by(scalars.mode)]
Locator = Annotated[str, text_by(scalars.locator)]
StationName = Annotated[str, text_by(scalars.station_name), Field(examples=["QM7TOR"])]
Megahertz = Annotated[float, BeforeValidator(in_band), Field(gt=0)]

# Numbers that several keys hold: how a message names them, their range, an example where they must be given.
Latitude = Annotated[
    float,
    text_by(scalars.latitude),
    Field(ge=-90, le=90, description="a latitude in degrees, south negative,", examples=["-34.50121"]),
]
Longitude = Annotated[
    float,
    text_by(scalars.longitude),
    Field(ge=-180, le=180, description="a longitude in degrees, west negative,", examples=["-55.80342"]),
]
# Lowest shore and highest road on Earth, with room to spare; feet or millimetres by mistake fall outside.
Height = Annotated[Number, Field(ge=-450, le=6500, description="a height above sea level in metres")]
Azimuth = Annotated[Number, Field(ge=0, le=360, description="an azimuth in degrees from true north", examples=["95"])]
Elevation = Annotated[Number, Field(ge=-10, le=90, description="an elevation in degrees", examples=["7.5"])]
Gain = Annotated[Number, Field(ge=0, le=80, description="a gain in decibels over an isotropic antenna")]
Beamwidth = Annotated[
    Number, Field(ge=NARROWEST_BEAM_DEG, le=90, description="a beamwidth between half-power points in degrees")
]
Current = Annotated[Number, Field(ge=0, le=500, description="a current in amperes")]
Chance = Annotated[Number, Field(gt=0, le=1, description="a chance")]
Presence = Annotated[Number, Field(ge=0, le=1, description="a share, such as 0.9,")]
Minutes = Annotated[Number, Field(ge=0, le=1440, description="a number of minutes")]
