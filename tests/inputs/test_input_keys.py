"""A key has one place: a field's type holds its converter, its range, its meaning and its example for all messages."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, Literal, get_origin

import pytest
from pydantic import Field
from pydantic.dataclasses import dataclass

from pipeline.inputs.kinds import CONFIG, AnyCase, Clock, Keys, Many, Number, Whole, fields_of, inside
from pipeline.inputs.messages import example_of, limits_of, notes_of, read
from pipeline.inputs.model import Season, Station
from pipeline.inputs.modes import Mode
from pipeline.inputs.yaml_tree import load_tree
from tests.inputs.helpers import HOME, faults_of, lay_out, swapped


@dataclass(config=CONFIG)
class Kettle(Keys):
    """Keys that no file has."""

    water_l: Annotated[Number, Field(gt=0, le=3, description="a volume in litres", examples=["1.5"])]
    cups: Annotated[Whole, Field(ge=1, le=12, description="a number of cups")] = 2
    tea: Annotated[Literal["black", "green"], AnyCase] = "black"
    rests: Many[Clock] = ()
    start: Annotated[Clock | None, Field(alias="from")] = None


def told(text: str) -> list[str]:
    """What is said of a file of these keys."""
    tree = load_tree(text.encode(), "kettle.yaml")
    return [f"{fault.line} {fault.field}: {fault.message}" for fault in read(Kettle, tree, tree.data)[1]]


def test_a_field_alone_makes_a_key() -> None:
    tree = load_tree(b"water_l: 0.5\ntea: Green\nrests: 04:30\nfrom: 16:00\ncups:\n", "kettle.yaml")
    made, faults = read(Kettle, tree, tree.data)
    assert faults == []
    assert made is not None
    assert (made.water_l, made.cups, made.tea) == (0.5, 2, "green")
    assert [str(time) for time in (*made.rests, made.start)] == ["04:30:00", "16:00:00"]
    assert made == Kettle(0.5, tea="green", rests=made.rests, start=made.start)


def test_every_message_comes_from_the_field() -> None:
    assert told("tea: oolong\ncups: 1.5\nrests: [16:00, 16.30]\nwater: 1\n") == [
        "1 tea: tea is 'oolong'; accepted: black, green.",
        "2 cups: cups is 1.5; a whole number is meant.",
        "3 rests.2: rests.2 is 16.30; write 16:30.",
        "4 water: unknown key 'water'; did you mean 'water_l'?",
    ]
    assert told("water_l: 4\ncups: [2]\nrests: 25:00\n") == [
        "1 water_l: water_l is 4; a volume in litres is meant, more than 0, at most 3.",
        "2 cups: cups is a list; write 2 without brackets.",
        "3 rests: rests is '25:00'; a time of day is meant, 00:00 to 24:00.",
    ]


def test_names_of_the_program_are_no_keys() -> None:
    assert told("water_l: 1\nstart: 16:00\n") == [
        "2 start: unknown key 'start'; did you mean 'from'?",
    ]


@pytest.mark.parametrize(
    ("old", "new", "field"),
    [
        ("call: QM7TOR", "call: QM7TOR\nassumed: [horizon]", "assumed"),
        ("call: QM7TOR", "call: QM7TOR\nfile: qm7tor.yaml", "file"),
        ("height_m: 212", "height_m: 212, uncertainty_km: 3", "position.uncertainty_km"),
        ("power_w: 40", "power_w: 40\n    band: 3cm", "bands.3cm.band"),
        ("from: 18:00, to: 23:30", "from: 18:00, to: 23:30, until: 23:30", "available.1.until"),
    ],
)
def test_what_the_reader_fills_in_cannot_be_written(tmp_path: Path, old: str, new: str, field: str) -> None:
    (fault,) = faults_of(lay_out(tmp_path, qm7tor=swapped(HOME, old, new)))
    assert fault.field == field
    assert fault.message.startswith("unknown key ")


def test_an_unknown_key_hides_no_other_fault(tmp_path: Path) -> None:
    """What hangs together is looked at as if the key were not there."""
    text = swapped(HOME, "azimuth_to_deg: 160,", "azimut_to_deg: 160, speed: 2,")
    text = swapped(text, "name: Basalt Tor", "nome: Basalt Tor")
    assert [str(fault) for fault in faults_of(lay_out(tmp_path, qm7tor=text))] == [
        "qm7tor.yaml, line 2: unknown key 'nome'; did you mean 'name'?",
        "qm7tor.yaml, line 12: unknown key 'azimut_to_deg' in mount; did you mean 'azimuth_to_deg'?",
        "qm7tor.yaml, line 12: unknown key 'speed' in mount; there is no key like it; take it out, or put # "
        "before the line to keep it as a note.",
    ]


def test_a_misspelt_place_is_told_by_its_key(tmp_path: Path) -> None:
    text = swapped(HOME, "{latitude_deg: -34.50121, longitude_deg: -55.80342, height_m: 212}", "{lokator: GF25cl}")
    assert [fault.message for fault in faults_of(lay_out(tmp_path, qm7tor=text))] == [
        "unknown key 'lokator' in position; did you mean 'locator'?",
    ]


def dataclasses_in(hint: Any) -> Iterator[type]:
    """All that a file holds as keys and values."""
    for part in inside(hint):
        if isinstance(part, type) and get_origin(part) is None and issubclass(part, Keys):
            yield part
            for _, inner in fields_of(part).values():
                yield from dataclasses_in(inner)


def test_every_key_says_what_it_is_and_every_needed_one_how_it_is_written() -> None:
    """The reader fills in all of a band's equipment; a frequency has sentences of its own."""
    for cls in {found for root in (Station, Season, Mode) for found in dataclasses_in(root)}:
        for key, (name, hint) in fields_of(cls).items():
            field = next(one for one in dataclasses.fields(cls) if one.name == name)
            needed = field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING
            if needed and cls.__name__ != "BandEquipment":
                assert not example_of(hint, (key,)).endswith(": ..."), f"{cls.__name__}.{key}"
            whole = [part for part in inside(hint) if isinstance(part, type) and issubclass(part, Keys)]
            if limits_of(hint) and not whole and key != "frequency_mhz":
                assert any(note.description for note in notes_of(hint)), f"{cls.__name__}.{key}"
