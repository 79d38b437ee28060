"""An example for what a line leaves out, by the calls and dates of its season."""

from __future__ import annotations

from pipeline.commands import typed_words as kinds
from pipeline.commands.at_hand import AtHand

WHAT = {
    kinds.CALL: "the call",
    kinds.INSTANT: "the time",
    kinds.TIME_SAID: "the time",
    kinds.DATE: "the date",
    kinds.SOURCE: "what was read",
    kinds.FIGURE: "how many decibels it was",
    kinds.ANSWERS: "what was answered",
    kinds.FOLDER: "the folder",
    kinds.PATH: "the file",
}
FILES = {"review": "march.adi", "import": "roster.csv", "replies": "mails"}


def argument_words(command: str, kind: str, at_hand: AtHand) -> tuple[str, ...]:
    """Words of an argument of a kind, as the command takes them."""
    first = at_hand.season.first
    planned = at_hand.nights_of() if command == "night" else []
    return {
        kinds.CALL: (next(iter(at_hand.partners), "QF4LUM"),),
        kinds.INSTANT: (f"{first}T21:00Z",),
        kinds.TIME_SAID: (f"{first}", "21:00"),
        kinds.DATE: (f"{planned[0] if planned else first}",),
        kinds.SOURCE: ("sun",),
        kinds.FIGURE: ("11.2",),
        kinds.ANSWERS: ("A=yes",),
        kinds.FOLDER: ("stations",),
    }.get(kind, (_last_log(at_hand) if command == "review" else FILES.get(command, "file"),))


def _last_log(at_hand: AtHand) -> str:
    """The last log of a night that is there."""
    logs = at_hand.night_logs()
    return logs[-1][1].as_posix() if logs else FILES["review"]


def option_value(option: str, kind: str, at_hand: AtHand) -> str:
    """A value for an option that stands without one."""
    partner = next(iter(at_hand.partners), "QF4LUM")
    if kind == kinds.CALL:
        return partner
    if kind == kinds.CHANGE:
        return f"{partner}.power_w=100"
    if kind == kinds.MONTH:
        return f"{at_hand.season.first:%Y-%m}"
    if kind == kinds.DATE:
        return f"{at_hand.season.first}"
    return kinds.VALUES.get(option, "..." if kind != kinds.TEXT else "text")


def what_is_missing(command: str, kind: str, at_hand: AtHand) -> str:
    """What is left out, as a clause; a call with those there are."""
    if kind == kinds.CALL and command != "add" and at_hand.partners:
        several = ", ".join(at_hand.partners[:6])
        return f"a partner's call is missing, one of {several}"
    return f"{WHAT[kind]} is missing, for instance {' '.join(argument_words(command, kind, at_hand))}"
