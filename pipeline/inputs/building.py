"""Walks a tree of text along the dataclasses of `model.py`: every value converted, every key known, every fault told.

Conversion is ours, so that `1,8` and `18.00` get a helpful sentence; ranges and required keys are pydantic's.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import types
import typing
from collections.abc import Callable, Mapping
from functools import cache
from typing import Annotated, Any, Literal, TypeVar, get_args, get_origin

from pydantic import TypeAdapter, ValidationError

from pipeline.inputs import messages, scalars
from pipeline.inputs.faults import Fault
from pipeline.inputs.model import DateRange, Hours, Position, Season, Station, Weekday
from pipeline.inputs.yaml_tree import Place, Tree, dotted, printable

T = TypeVar("T")

# Keys whose word in the file is a reserved one in Python.
KEY_NAMES: dict[type, dict[str, str]] = {Hours: {"start": "from", "until": "to"}}
# Fields that the reader fills and nobody writes.
INTERNAL: dict[type, frozenset[str]] = {
    Station: frozenset({"assumed", "file"}),
    Season: frozenset({"assumed", "file"}),
    Position: frozenset({"uncertainty_km"}),
}
# Longer lists than any station has; a roster of a thousand points of horizon is still welcome.
LONGEST_LIST = 4000


class Failed(Exception):
    """A value could not be had; its fault is noted."""


class Reader:
    """One tree on its way to dataclasses: notes the faults and which keys were assumed."""

    def __init__(self, tree: Tree) -> None:
        self.tree = tree
        self.faults: list[Fault] = []
        self.assumed: list[str] = []

    def note(self, place: Place, message: str) -> None:
        """A whole sentence about a place."""
        self.faults.append(Fault(self.tree.file, self.tree.line(place), dotted(place), message))

    def refuse(self, place: Place, value: Any, advice: str, which: bool = False) -> Failed:
        """`place is value; advice`, to be raised."""
        link = ", which " if which else "; "
        self.note(place, f"{dotted(place)} is {shown(value)}{link}{advice}")
        return Failed()

    def scalar(self, convert: Callable[[str], T], value: Any, place: Place) -> T:
        """One value by a converter of `scalars`."""
        if not isinstance(value, str):
            raise self.refuse(place, value, "one value is meant.")
        if not value:
            self.note(place, f"{dotted(place)} is empty; give it a value or leave it out.")
            raise Failed()
        try:
            return convert(value)
        except scalars.Refusal as refusal:
            raise self.refuse(place, value, refusal.advice, refusal.which) from None

    def entries(self, value: Any, place: Place, convert: Callable[[Reader, Any, Place], T]) -> tuple[T, ...]:
        """A list, or one value standing for a list of one; every entry is tried before any fails the whole."""
        if isinstance(value, list):
            pairs = [(entry, (*place, index)) for index, entry in enumerate(value)]
        else:
            pairs = [(value, place)]
        if len(pairs) > LONGEST_LIST:
            raise self.refuse(place, value, f"at most {LONGEST_LIST} entries are taken.")
        done: list[T] = []
        for entry, where in pairs:
            try:
                done.append(convert(self, entry, where))
            except Failed:
                continue
        if len(done) < len(pairs):
            raise Failed()
        return tuple(done)


def shown(value: Any) -> str:
    """A value as a message shows it."""
    if isinstance(value, dict):
        return "a mapping"
    if isinstance(value, list):
        return "a list"
    text = printable(value)
    return text if scalars.NUMBER.fullmatch(text) else f"'{text}'"


Converter = Callable[[Reader, Any, Place], Any]


def plainly(convert: Callable[[str], Any]) -> Converter:
    """A converter of text as one of places."""
    return lambda reader, value, place: reader.scalar(convert, value, place)


def listed(convert: Callable[[str], Any]) -> Converter:
    """A converter of text for each entry of a list."""
    return lambda reader, value, place: reader.entries(value, place, plainly(convert))


# By the name of the field, wherever it stands.
BY_NAME: dict[str, Converter] = {
    "call": plainly(scalars.call_sign),
    "email": plainly(scalars.mail_address),
    "time_zone": plainly(scalars.time_zone),
    "band": plainly(scalars.band_name),
    "modes": listed(scalars.mode),
    "months": listed(scalars.month),
    "locator": plainly(scalars.locator),
    "home": plainly(scalars.station_name),
    "latitude_deg": plainly(scalars.coordinate),
    "longitude_deg": plainly(scalars.coordinate),
}
BY_TYPE: dict[Any, Converter] = {
    float: plainly(scalars.number),
    int: plainly(scalars.whole_number),
    bool: plainly(scalars.truth),
    str: plainly(scalars.words),
    dt.time: plainly(scalars.time_of_day),
    dt.date: plainly(scalars.date),
    DateRange: plainly(scalars.date_range),
    Weekday: plainly(scalars.weekday),
}


def fields_of(cls: Any) -> dict[str, tuple[str, Any]]:
    """Keys that a file may hold for a dataclass, each with its field's name and type."""
    return known_fields_of(cls)


@cache
def known_fields_of(cls: Any) -> dict[str, tuple[str, Any]]:
    """The same, worked out once (a cached function hides its argument's type from the checker)."""
    hints = typing.get_type_hints(cls, include_extras=True)
    names = KEY_NAMES.get(cls, {})
    internal = INTERNAL.get(cls, frozenset())
    return {
        names.get(field.name, field.name): (field.name, hints[field.name])
        for field in dataclasses.fields(cls)
        if field.name not in internal
    }


@cache
def adapter(cls: Any) -> TypeAdapter[Any]:
    """Pydantic's validator of a dataclass, made once."""
    return TypeAdapter(cls)


def converter_for(hint: Any) -> Converter:
    """What turns a value of a tree into a field's type."""
    if hint in BY_TYPE:
        return BY_TYPE[hint]
    if get_origin(hint) is Annotated:
        return converter_for(get_args(hint)[0])
    if get_origin(hint) in (typing.Union, types.UnionType):
        parts = [part for part in get_args(hint) if part is not type(None)]
        if len(parts) == 1:
            return converter_for(parts[0])
        mapping = next(part for part in parts if dataclasses.is_dataclass(part))
        word = next(part for part in parts if part is not mapping)
        return lambda reader, value, place: converter_for(mapping if isinstance(value, dict) else word)(
            reader, value, place
        )
    if get_origin(hint) is Literal:
        choices = get_args(hint)
        return lambda reader, value, place: reader.scalar(lambda text: choice(text, choices), value, place)
    if get_origin(hint) is tuple:
        each = converter_for(get_args(hint)[0])
        return lambda reader, value, place: reader.entries(value, place, each)
    return lambda reader, value, place: build(reader, hint, value, place)


def choice(text: str, choices: tuple[str, ...]) -> str:
    """One of some words, letter case aside."""
    for word in choices:
        if word.casefold() == text.casefold():
            return word
    raise scalars.Refusal(scalars.suggestion(text, choices))


def build(
    reader: Reader,
    cls: type[T],
    value: Any,
    place: Place,
    special: Mapping[str, Converter] | None = None,
    defaults: Mapping[str, Any] | None = None,
    internal: Mapping[str, Any] | None = None,
) -> T:
    """A dataclass from a mapping of the tree.

    `special` converts the keys it names, `defaults` fills absent keys and notes them as assumed, `internal` fills
    fields that no file holds. Raises Failed once every fault is noted.
    """
    if not isinstance(value, dict):
        known = ", ".join(f"{key}: ..." for key in list(fields_of(cls))[:2])
        raise reader.refuse(place, value, f"keys and values are meant, such as {{{known}}}.")
    known_fields = fields_of(cls)
    values: dict[str, Any] = dict(internal or {})
    failed: set[str] = set()
    for key, entry in value.items():
        name, hint = known_fields.get(key, ("", None))
        if not name:
            note_unknown(reader, cls, place, key, entry)
        elif entry != "" and entry is not None:
            convert = (special or {}).get(key) or BY_NAME.get(name) or converter_for(hint)
            try:
                values[name] = convert(reader, entry, (*place, key))
            except Failed:
                failed.add(name)
    for name, default in (defaults or {}).items():
        if name not in values and name not in failed:
            values[name] = default
            reader.assumed.append(dotted((*place, name)))
    made = validated(reader, cls, values, failed, place)
    if failed or made is None:
        raise Failed()
    return made


def note_unknown(reader: Reader, cls: type, place: Place, key: str, entry: Any) -> None:
    """A key that the contract does not know, with the nearest that it does."""
    where = f" in {dotted(place)}" if place else ""
    advice = scalars.suggestion(key, fields_of(cls))
    if entry == "" and " " in key:
        # In curly brackets a comma ends a value, and the words after it look like a key of their own.
        advice = "text with a comma needs quotes there."
    message = f"unknown key '{printable(key)}'{where}; {advice}"
    line = reader.tree.key_lines.get((*place, key)) or reader.tree.line((*place, key))
    reader.faults.append(Fault(reader.tree.file, line, printable(dotted((*place, key))), message))


def validated(reader: Reader, cls: type[T], values: dict[str, Any], failed: set[str], place: Place) -> T | None:
    """The dataclass by pydantic, or None with a sentence for each of its errors that was not told before."""
    keys = {name: key for key, (name, _) in fields_of(cls).items()}
    try:
        return typing.cast(T, adapter(typing.cast(Any, cls)).validate_python(values))
    except ValidationError as error:
        for detail in error.errors(include_url=False):
            name = str(detail["loc"][0])
            key = keys.get(name, name)
            where = (*place, key)
            if detail["type"] == "missing":
                if name not in failed:
                    example = messages.EXAMPLES.get(key, f"{key}: ...")
                    reader.note(where, f"{dotted(where)} is missing; write for instance `{example}`.")
            else:
                advice = messages.advice_for(detail, cls, key)
                reader.refuse(where, text_of(values.get(name)), advice)
        return None


def text_of(value: Any) -> Any:
    """A converted value as it may have been written."""
    if isinstance(value, float):
        return f"{value:.12g}"
    return value if isinstance(value, (str, dict, list)) else str(value)
