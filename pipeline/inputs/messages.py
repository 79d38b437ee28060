"""The one renderer of faults: what pydantic finds, as sentences with file, line, field and what would be right."""

from __future__ import annotations

import copy
import re
import warnings
from collections.abc import Callable
from dataclasses import replace
from functools import cache, partial
from typing import Any, TypeVar, cast, get_args, get_origin

import annotated_types
from pydantic import TypeAdapter, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from pipeline.inputs import groups_said, keys_said, misplaced_keys, numbers_said, own_writing, quantities, scalars
from pipeline.inputs.advice_read import CONCRETE, right_in, tried
from pipeline.inputs.faults import Fault
from pipeline.inputs.free_days import holiday_code
from pipeline.inputs.kinds import UNWRITTEN, AnyCase, Keys, fields_of, inside
from pipeline.inputs.yaml_tree import Place, Tree, dotted, printable

T = TypeVar("T")

# Faults of a file whose values are tried in stretches; the rest of a spoiled file is told as it is.
MOST_TRIED = 30
UNKNOWN = "unexpected_keyword_argument"
# What pydantic puts behind a key that is at fault itself.
IN_KEY = "[key]"
BOUNDS = {"ge": annotated_types.Ge, "gt": annotated_types.Gt, "le": annotated_types.Le, "lt": annotated_types.Lt}


@cache
def adapter(hint: Any) -> TypeAdapter[Any]:
    """Pydantic's validator of a type, made once."""
    with warnings.catch_warnings():
        # A field that is tried by itself has no use for its key's name, which pydantic would tell the user.
        warnings.simplefilter("ignore", UserWarning)
        return TypeAdapter(hint)


def read(hint: type[T], tree: Tree, data: Any, place: Place = ()) -> tuple[T | None, list[Fault]]:
    """What stands at a place of a tree as a type of `model.py`, and every fault of it.

    Unknown keys are told and left out; None where the rest is at fault as well.
    """
    try:
        # Keys are called as in the file, never as the field.
        made = adapter(cast(Any, hint)).validate_python(data, by_alias=True, by_name=False, context=tree)
        return cast(T, made), []
    except ValidationError as error:
        details = sorted(error.errors(include_url=False), key=lambda detail: order(place_of(detail, data)[0], data))
    unknown = [place_of(detail, data)[0] for detail in details if detail["type"] == UNKNOWN]
    names = {at: misplaced_keys.meant_key(field_at(hint, at)[0], str(at[-1]), value_at(data, at)) for at in unknown}
    # A key that stands there under another name is not missing.
    there = {(*at[:-1], name) for at, name in names.items() if name}
    for at in unknown:
        owner = field_at(hint, at)[0]
        there |= {(*at[:-1], name) for name in misplaced_keys.settled(tree, owner, str(at[-1]), value_at(data, at))}
    told = [one for one in details if one["type"] != "missing" or place_of(one, data)[0] not in there]
    others = [detail for detail in told if detail["type"] != "missing"]
    faults = [fault_of(detail, hint, tree, data, place, at < MOST_TRIED) for at, detail in enumerate(others)]
    faults += missing_keys([place_of(one, data)[0] for one in told if one["type"] == "missing"], hint, tree, place)
    made = None
    if unknown:
        # What hangs together is looked at where all keys are known, those that are meant by others under their names.
        renamed, lines = under_their_names(tree, data, place, names)
        made, further = read(hint, replace(tree, lines=lines), renamed, place)
        fields = {dotted((*place, *at)) for at in there}
        faults += [fault for fault in further if fault.field not in fields or " missing;" not in fault.message]
    return made, alike_once(list(dict.fromkeys(faults)))


def alike_once(faults: list[Fault]) -> list[Fault]:
    """Keys of one group that stand outside of it, which all say to write the same group, as one fault."""
    first: dict[str, Fault] = {}
    kept: list[Fault] = []
    for fault in faults:
        group = re.search(r"; (write `\w+: \{[^`]*,[^`]*\}`)\.$", fault.message)
        known = first.get(group[1]) if group and fault.message.startswith("unknown key") else None
        if group and known is None:
            first[group[1]] = fault
        if known is None or group is None or fault.line == known.line:
            kept.append(fault)
            continue
        out = replace(known, message=f"{known.message[:-1]}, and take line {fault.line} out.")
        kept[kept.index(known)] = out
        first[group[1]] = out
    return kept


def order(place: Place, data: Any) -> list[int]:
    """Where a place comes in the data, as they were written; what is absent comes last."""
    ranks: list[int] = []
    for key in place:
        if isinstance(key, int):
            ranks.append(key)
            data = data[key]
        else:
            keys = list(data) if isinstance(data, dict) else []
            ranks.append(keys.index(key) if key in keys else len(keys))
            data = data[key] if key in keys else None
    return ranks


def value_at(data: Any, place: Place) -> Any:
    """What stands at a place of the data."""
    for step in place:
        data = data[step]
    return data


def under_their_names(
    tree: Tree, data: Any, above: Place, names: dict[Place, str | None]
) -> tuple[Any, dict[Place, int]]:
    """The data with each unknown key under the name that it most likely stands for, or without it; and the lines."""
    data, lines = copy.deepcopy(data), dict(tree.lines)
    for place, meant in names.items():
        holder = value_at(data, place[:-1])
        value = holder.pop(place[-1])
        unit = keys_said.unit_in(str(place[-1]), meant) if meant else ""
        if unit and isinstance(value, str) and scalars.NUMBER.fullmatch(value):
            value = f"{value} {unit}"
        if meant is not None and meant not in holder:
            holder[meant] = value
            old, new = (*above, *place), (*above, *place[:-1], meant)
            lines |= {(*new, *at[len(old) :]): line for at, line in tree.lines.items() if at[: len(old)] == old}
    return data, lines


def missing_keys(absent: list[Place], hint: Any, tree: Tree, above: Place) -> list[Fault]:
    """The keys that are not there, those of one group in one fault."""
    groups: dict[Place, list[Place]] = {}
    for at in absent:
        groups.setdefault(at[:-1], []).append(at)
    faults = []
    for places in groups.values():
        names = [dotted((*above, *at)) for at in places]
        told = " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
        right = ", ".join(example_of(field_at(hint, at)[1], at) for at in places)
        verb = "is" if len(names) == 1 else "are"
        faults.append(tree.fault((*above, *places[0]), f"{told} {verb} missing; write for instance `{right}`."))
    return faults


def fault_of(detail: ErrorDetails, hint: Any, tree: Tree, data: Any, above: Place, thorough: bool = True) -> Fault:
    """One of pydantic's errors; `above` is the place of the data that were checked.

    `thorough`: whether stretches of a value that no rule knows are tried.
    """
    below, value = place_of(detail, data)
    place, kind = (*above, *below), detail["type"]
    owner, field = field_at(hint, below)
    if kind == UNKNOWN:
        return unknown_key(tree, owner, place, value)
    if kind == "told" and detail["msg"].startswith("unknown band"):
        advice = misplaced_keys.no_band(tree, place, str(place[-1]))
        if advice:
            return tree.fault(place, f"unknown key '{printable(str(place[-1]))}' in {dotted(place[:-1])}; {advice}")
    if kind == "told":
        return tree.fault(place, filled(detail["msg"], tree, place, value))
    refusal = detail.get("ctx", {}).get("error")
    advice = own_advice(tree, place, value, field)
    if advice is None:
        advice = refusal.advice if isinstance(refusal, scalars.Refusal) else advice_for(detail, field)
        if advice.startswith(("a number is meant", "write the number alone")) or not isinstance(
            refusal, scalars.Refusal
        ):
            advice = in_range(place, value, field) or advice
        if thorough and isinstance(value, str) and not CONCRETE.search(advice) and is_tried(place, field):
            advice = tried(value, partial(with_unit, place, value, partial(taken, tree, place, field))) or advice
    if place and isinstance(place[-1], int):
        advice = re.sub(r"^write \[([^\[\]]+)\]\.$", r"write \1, each an entry of its own.", advice)
    which = isinstance(refusal, scalars.Refusal) and refusal.which
    return tree.fault(place, f"{dotted(place)} is {shown(value)}{', which ' if which else '; '}{advice}")


# What reads a value of few forms; a text of any kind holds what it likes.
TRIED = (
    *own_writing.NUMBERS,
    scalars.date,
    scalars.month,
    scalars.time_of_day,
    scalars.weekday,
    scalars.mode,
    scalars.band_name,
    scalars.language,
    scalars.locator,
    scalars.truth,
    holiday_code,
)


def is_tried(place: Place, field: Any) -> bool:
    """Whether stretches of a value are tried: of those of few forms, a word among some included."""
    key = next((str(part) for part in reversed(place) if not isinstance(part, int)), "")
    if key in ("dates", "unavailable_dates"):
        return True
    few = any(isinstance(part, type) and issubclass(part, AnyCase) for part in inside(field))
    return own_writing.converter_of(field) in TRIED or few


def with_unit(place: Place, value: str, take: Callable[[str], str], text: str) -> str:
    """What to write for a stretch of a value; nothing for one that lost a unit which is to be converted."""
    key = next((str(part) for part in reversed(place) if not isinstance(part, int)), "")
    units = (quantities.quantity(key) or ("", {}))[1]
    words = re.findall(r"\d\s*([^\W\d_]+|%|°)", value)
    lost = any(units.get(word.casefold(), 1.0) != 1.0 and word not in text for word in words)
    return "" if lost else take(text)


def taken(tree: Tree, place: Place, field: Any, text: str) -> str:
    """What to write for a stretch of a value: itself where the reader takes it, else what its own advice says."""
    try:
        adapter(field).validate_python(text, by_alias=True, by_name=False, context=tree)
    except ValidationError as error:
        refusal = error.errors(include_url=False)[0].get("ctx", {}).get("error")
        advice = own_advice(tree, place, text, field)
        return right_in(advice or (refusal.advice if isinstance(refusal, scalars.Refusal) else ""))
    except ValueError:
        return ""
    return text


def own_advice(tree: Tree, place: Place, value: Any, field: Any) -> str | None:
    """What to write for a value in the operator's own figures; None where they tell nothing."""
    if place and isinstance(value, (list, dict)):
        dates = own_writing.dates_advice(place, value)
        if dates:
            return dates
    whole = [part for part in inside(field) if isinstance(part, type) and issubclass(part, Keys)]
    alone = own_writing.alone(value)
    if alone and not whole:
        return f"write {alone} without brackets."
    key = next((str(part) for part in reversed(place) if not isinstance(part, int)), "")
    several = get_origin(field) is tuple or any(get_origin(part) is tuple for part in inside(field))
    if not whole and not several and (one := own_writing.one_of(key, value)):
        return one
    grouped = groups_said.group_advice(tree, place, value) if whole else None
    if grouped or not isinstance(value, str):
        return grouped
    return own_writing.value_advice(tree, place, value, field, partial(fits, limits_of(field)))


def fits(limits: dict[str, float], value: float) -> bool:
    """Whether a number keeps to its bounds."""
    return (
        limits.get("ge", value) <= value <= limits.get("le", value)
        and (limits.get("gt") is None or value > limits["gt"])
        and (limits.get("lt") is None or value < limits["lt"])
    )


def in_range(place: Place, value: Any, field: Any) -> str | None:
    """The bounds of a number, and what one beyond them is most likely in another unit."""
    limits = limits_of(field)
    if not limits:
        return None
    meaning = next((note.description for note in notes_of(field) if note.description), "a number")
    told = f"{meaning} is meant, {range_words(limits)}"
    key = next((str(part) for part in reversed(place) if not isinstance(part, int)), "")
    if isinstance(value, str) and scalars.NUMBER.fullmatch(value):
        hint = numbers_said.out_of_range(key, float(value), partial(fits, limits))
        told += f"; {hint}" if hint else ""
    return f"{told}."


def place_of(detail: ErrorDetails, data: Any) -> tuple[Place, Any]:
    """Where in the data an error stands, and the value (or the key of a table) that it is about.

    Pydantic names choices between types as well, and looks into a value that stands for a list or for one of its keys.
    """
    place: Place = ()
    value = data
    for part in detail["loc"]:
        if part == IN_KEY and detail["type"] == "told":
            return place, place[-1]
        if isinstance(part, int) and isinstance(value, list):
            value = value[part]
        elif isinstance(part, int) or part.startswith(UNWRITTEN) or isinstance(value, str):
            continue
        else:
            value = value.get(part) if isinstance(value, dict) else None
        place = (*place, part)
    return place, value


def field_at(hint: Any, place: Place) -> tuple[Any, Any]:
    """The dataclass that holds the last key of a place, and the type of that key; None where it knows no such key."""
    owner = None
    for key in place:
        if isinstance(key, int):
            continue
        parts = list(inside(hint))
        table = next((part for part in parts if get_origin(part) is dict), None)
        if table is not None:
            hint = get_args(table)[1]
            continue
        owner = next(part for part in parts if isinstance(part, type) and issubclass(part, Keys))
        hint = fields_of(owner).get(key, (key, None))[1]
    return owner, hint


def unknown_key(tree: Tree, owner: Any, place: Place, entry: Any) -> Fault:
    """A key that the contract does not know, with the nearest that it does."""
    key, around = str(place[-1]), place[:-1]
    advice = misplaced_keys.key_advice(tree, owner, place, entry)
    if entry == "" and " " in key:
        # In curly brackets a comma ends a value, and the words after it look like a key of their own.
        advice = "text with a comma needs quotes there."
    where = f" in {dotted(around)}" if around else ""
    line = tree.key_lines.get(place) or tree.line(place)
    return Fault(tree.file, line, printable(dotted(place)), f"unknown key '{printable(key)}'{where}; {advice}")


def filled(sentence: str, tree: Tree, place: Place, value: Any) -> str:
    """A sentence of `kinds.told` with its places, value and lines put in."""
    words = {"here": dotted(place), "around": dotted(place[:-1]), "value": shown(value)}

    def put_in(found: re.Match[str]) -> str:
        return str(tree.line((*place[:-1], int(found[2])))) if found[2] else words[found[1]]

    return re.sub(r"\{(here|around|value|line (\d+))\}", put_in, sentence)


def shown(value: Any) -> str:
    """A value as a message shows it."""
    if isinstance(value, dict):
        return "a mapping"
    if isinstance(value, list):
        return "a list"
    text = printable(value)
    return text if scalars.NUMBER.fullmatch(text) else f"'{text}'"


def notes_of(hint: Any) -> list[FieldInfo]:
    """What is said of a type with `Field`."""
    return [note for note in inside(hint) if isinstance(note, FieldInfo)]


def example_of(hint: Any, place: Place) -> str:
    """How a key that must be there is written."""
    given = next((note.examples for note in reversed(notes_of(hint)) if note.examples), ["..."])
    return f"{place[-1]}: {given[0]}"


def limits_of(hint: Any) -> dict[str, float]:
    """The bounds of an annotated number, as {'ge': .., 'gt': .., 'le': .., 'lt': ..}."""
    found = [bound for note in notes_of(hint) for bound in note.metadata]
    return {name: getattr(bound, name) for name, kind in BOUNDS.items() for bound in found if isinstance(bound, kind)}


def range_words(limits: dict[str, float]) -> str:
    """`-450 to 6500`, `more than 0, at most 5000`."""
    if "ge" in limits and "le" in limits:
        return f"{limits['ge']:g} to {limits['le']:g}"
    low = f"{limits['ge']:g} or more" if "ge" in limits else f"more than {limits['gt']:g}" if "gt" in limits else ""
    high = f"at most {limits['le']:g}" if "le" in limits else f"less than {limits['lt']:g}" if "lt" in limits else ""
    return ", ".join(part for part in (low, high) if part)


def advice_for(error: ErrorDetails, hint: Any) -> str:
    """The second half of the sentence for one of pydantic's own errors about a value."""
    context = error.get("ctx", {})
    if error["type"] == "string_too_long":
        return f"at most {context.get('max_length')} characters are meant."
    if error["type"] == "string_too_short":
        return "some text is meant; leave the line out if there is none."
    return f"{error['msg'][:1].lower()}{error['msg'][1:]}."
