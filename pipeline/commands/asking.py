"""What `new` asks on a terminal: each thing once, and again where the answer cannot be taken; empty leaves it open."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from pipeline.inputs.laying_out import NewHome

QUESTIONS = (
    ("call", "Your call"),
    ("locator", "Your locator, six characters"),
    ("dish_diameter_m", "Dish, diameter in metres"),
    ("power_w", "Watts at the feed"),
    ("operator", "Your name"),
    ("email", "Your mail address"),
    ("time_zone", "Your time zone"),
)
MUST = ("call", "locator")


def asked(home: NewHome) -> NewHome:
    """Home with what was missing, as it was answered; its place is not asked for where coordinates were given."""
    from pipeline.inputs.laying_out import zones_in_question
    from pipeline.inputs.zone_of_place import clock_told, is_plain, zones_told

    for key, question in QUESTIONS:
        if getattr(home, key) or (key == "locator" and (home.latitude_deg or home.longitude_deg)):
            continue
        zones = zones_in_question(home) if key == "time_zone" else ()
        usual = zones[0] if is_plain(zones) else None
        if usual:
            question += f", {clock_told(usual)}"
        elif zones:
            typer.echo(f"By the place your time zone may be {zones_told(zones)}.", err=True)
        home = dataclasses.replace(home, **{key: _answer(home, key, question, usual)})
    return home


def _answer(home: NewHome, key: str, question: str, usual: str | None) -> str | None:
    """One answer that fits, None for none."""
    while True:
        said = typer.prompt(question, default=usual or "", show_default=bool(usual), err=True).strip()
        fault = _fault(home, key, said)
        if not fault:
            return said or None
        typer.echo(f"  {fault}", err=True)


def _fault(home: NewHome, key: str, said: str) -> str:
    """What is wrong with an answer, empty where nothing is."""
    from pathlib import Path

    from pipeline.inputs.faults import InputFaults
    from pipeline.inputs.laying_out import example_station
    from pipeline.inputs.writing import checked_station

    if not said:
        return "this is needed" if key in MUST or key == "time_zone" else ""
    example = example_station()
    tried = dataclasses.replace(home, **{key: said})
    tried = dataclasses.replace(tried, call=tried.call or example.call, locator=tried.locator or "JO22")
    try:
        checked_station(tried.tree, "new", Path())
    except InputFaults as faults:
        return next((one.message for one in faults.faults), "")
    return ""
