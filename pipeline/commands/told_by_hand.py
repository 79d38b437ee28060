"""Calls, words for the way and missing options of `send`: whom one told oneself, how, and what sends again."""

from __future__ import annotations

from pipeline.commands import typed_words as kinds
from pipeline.commands.arguments_meant import Given
from pipeline.commands.at_hand import AtHand
from pipeline.commands.typed_values import read_value
from pipeline.commands.ways import Asked

# Words before the way in which somebody was told.
BY = ("by", "via", "per", "over", "über", "par", "por", "via.", "through", "on")


def told_by_hand(
    slots: list[Given], options: list[Given], left: list[str], whys: list[str], at_hand: AtHand
) -> tuple[list[Given], list[Given], list[str]]:
    """Arguments, options and what is left of `send`: calls are of those told by hand, and a word for the way is it."""
    if slots and not options:
        whys.append("send goes to every partner whose letter is new; whom you told yourself is noted by hand")
        options = [Given("", "--by-hand", "--by-hand", ())]
    named = [one.name for one in options]
    if "--again" in named and "--yes" not in named:
        whys.append("--again sends mail, so it wants --yes as well")
        options = [*options, Given("", "--yes", "--yes", ())]
    left = [one for one in left if one.casefold() not in BY]
    is_open = "--by-hand" in named and "--way" not in named and len(left) == 1
    if is_open and (ways := read_value(kinds.WORD, left[0], Asked("send", "--way", at_hand)).ways):
        whys.append(f"{left[0]} is the way, after --way")
        options, left = [*options, Given(kinds.WORD, "--way", "--way", ways[0].words)], []
    if "--by-hand" in named and not slots and at_hand.partners:
        whys.append("--by-hand takes the calls of those whom you told")
        slots = [Given(kinds.CALL, "", "", (next(iter(at_hand.partners)),))]
    return slots, options, left
