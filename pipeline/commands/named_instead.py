"""What is named in place of what a command wants: a partner for a night, a slot for a time, one for all."""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipeline.commands.at_hand import AtHand
from pipeline.commands.lines import in_turn, line, message
from pipeline.inputs.moments_said import DATE, said_in
from pipeline.wording import formats

ALL = "all every everybody everyone each alle allen tous toutes todos tutti alla kaikki wszystkie vse"
EVERY = frozenset(ALL.split())
WITHOUT = "drop without exclude except no-partner skip omit remove minus not ohne sans sin senza sem zonder utan uten"
OUT = frozenset(WITHOUT.split())
ONLY = ("only", "just", "nur", "seulement", "solo", "bara", "alleen", "tylko", "partner", "with", "mit", "avec", "con")
MOST_LINES = 6


def named_answer(name: str, words: Sequence[str], options: Sequence[str], at_hand: AtHand) -> str:
    """What to tell of a line's arguments, and the line for what is meant; empty where they are of the right sort."""
    partners = [call for word in words if (call := at_hand.partner_of(word))]
    if name == "night":
        return _night(words, partners, options, at_hand)
    if name == "propose" and len(words) == 2 and partners[:1]:
        return _slot(words[1], partners[0], options, at_hand)
    if name == "letters" and len(partners) > 1 and len(partners) == len(words):
        told = "letters writes those of all partners, and shows what one of them holds"
        return in_turn(told, [line("letters", "--shown", one, *options) for one in partners])
    if name == "letters" and len(partners) == len(words) == 1:
        told = f"letters writes those of all partners, a folder for each; --shown tells what {partners[0]} holds"
        return in_turn(told, [line("letters", *options), line("letters", "--shown", partners[0], *options)])
    if name == "letters" and len(words) > 1 and all(re.search(r"\d[./-]\d", word) for word in words):
        days = [said_in(word, (DATE,), at_hand.season).readings for word in words]
        if all(len(one) == 1 and one[0].date for one in days):
            told = "letters writes of the morning after one night, or of the plan"
            return in_turn(told, [line("letters", "--after", f"{one[0].date}", *options) for one in days])
    if name == "send" and "--by-hand" in options and words and all(word.casefold() in EVERY for word in words):
        return message(["--by-hand takes each call"], [(line("send", *at_hand.partners, *options), "")])
    if name == "send" and partners and {"--yes", "--by-hand"} <= set(options):
        kept = [word for word in options if word != "--yes"]
        return message(
            ["what you told yourself is noted at once, without --yes"], [(line("send", *partners, *kept), "")]
        )
    if name == "need" and words and all(word.casefold() in EVERY for word in words):
        several = at_hand.partners[:MOST_LINES]
        return in_turn("need takes one partner at a time", [line("need", one, *options) for one in several])
    if name == "send" and partners and options == ["--yes"]:
        told = "send goes to every partner whose letter is new, never to one alone"
        own = (line("send", "--by-hand", *partners), f"you have told {formats.listed(partners)} yourself")
        return message([told], [(line("send", "--yes"), "all whose letter is new are meant"), own])
    return ""


def left_out(shown: str, bare: str, values: Sequence[str], at_hand: AtHand) -> str:
    """The plan without a partner, as it is tried; empty for another option, or nobody of the season's list."""
    partners = [call for word in values if (call := at_hand.partner_of(word))]
    listed = [one.call for one in at_hand.inputs.season.partners or ()] if at_hand.inputs else []
    if bare not in (*OUT, *ONLY) or not partners or not set(partners) <= set(listed):
        return ""
    if bare in ONLY:
        partners = [one for one in listed if one not in partners]
    changes = [f"season.partners.{listed.index(one) + 1}.contacts_wanted=0" for one in partners]
    words = [word for one in changes for word in ("--what-if", one)]
    told = f"{shown} is no option: partners stand in {at_hand.file.as_posix()}; to try it without {', '.join(partners)}"
    return message([told], [(line("plan", *words), "")])


def _night(words: Sequence[str], partners: Sequence[str], options: Sequence[str], at_hand: AtHand) -> str:
    """The nights in which a partner has a slot, or all of the plan, where no date is named."""
    rest = [word for word in words if not at_hand.partner_of(word)]
    if len(words) == 1 and words[0].casefold() in EVERY and (all_of := at_hand.nights_of()[:MOST_LINES]):
        return in_turn("one night at a time", [line("night", f"{one}", *options) for one in all_of])
    if len(partners) > 1 or (not partners and not any(re.fullmatch("[A-Za-z]{1,2}", word) for word in words)):
        return ""
    if len(words) != 1 or said_in(" ".join(rest), (DATE,), at_hand.season).readings:
        return ""
    nights = at_hand.nights_of(*partners)[:MOST_LINES]
    if not nights:
        return ""
    whose = f"{partners[0]} has slots in" if partners else f"{words[0]} is a slot's letter; the plan has"
    told = f"a night is named by its date; {whose} {formats.listed([formats.day(one) for one in nights])}"
    lines = [(line("night", f"{one}", *options), f"{formats.day(one)} is meant") for one in nights]
    return message([told], lines)


def _slot(word: str, call: str, options: Sequence[str], at_hand: AtHand) -> str:
    """A slot that is offered already, by its letter."""
    letter = re.fullmatch(r"(?i)(?:slot\s*)?([a-z]{1,2})", word)
    start = at_hand.slot_start(call, letter[1]) if letter else None
    if letter is None or start is None:
        return ""
    label = letter[1].upper()
    told = f"slot {label} of {call}, {formats.day(start.date())} {start:%H:%M} UTC, is offered already"
    kept = [word for word in options if word != "--take"]
    return message([f"{told}; where that is the answer"], [(line("answer", call, f"{label}=yes", *kept), "")])
