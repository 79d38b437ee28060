"""Words in other words that a command knows: letters of several slots, a slot that moves, names for calls."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Sequence

from pipeline.commands.arguments_meant import is_call
from pipeline.commands.at_hand import AtHand
from pipeline.commands.examples import what_is_missing
from pipeline.commands.lines import in_turn, message
from pipeline.commands.named_instead import EVERY, WITHOUT
from pipeline.commands.sources import sources_meant
from pipeline.commands.typed_words import CALL, CALLED

BOTH_SAID = "both beide beides tous-les-deux ambos ambas entrambi entrambe begge båda molemmat oba obie"
BOTH = frozenset(BOTH_SAID.split())
ILL = ("missing", "ill", "sick", "krank", "malade", "enfermo", "malato", "sjuk", "syg", "ziek", "doente")
MISSING = frozenset([*WITHOUT.split(), *CALLED["--drop"].split(), *ILL])
MOVED = re.compile(
    r"(?i)(?:\b(?:instead of|in place of|in place|statt|anstatt|anstelle von|au lieu de|à la place de|en lugar de|"
    r"em vez de|invece di|al posto di|in plaats van|i stället för|i stedet for|zamiast|místo|for|move)\s+)?"
    r"(?:slot\s+)?\b([A-Z])\b(?:\s*(?:to|->|auf|à|a|nach))?"
)
LABELLED = re.compile(r"([A-Za-z](?:[,+/&-][A-Za-z])+|[^\W\d_]{3,})\s*[=:]\s*(\w+)")
PutRight = Callable[..., tuple[str, list[str]]]


def renamed(name: str, words: Sequence[str], at_hand: AtHand, put: PutRight) -> str:
    """The line with its words put into those of the command; empty where nothing is to be renamed."""
    if name == "import" and len(words) > 1 and is_call(words[0]):
        return _told("import takes a table, and one station is added by its call", put(words, "add"))
    if name == "answer" and len(words) > 1 and words[0].casefold() in EVERY:
        lines = [one for call in at_hand.partners for one in put([call, *words[1:]])[1]]
        return in_turn("answer takes one partner at a time", lines)
    partner = at_hand.partner_of(words[0]) if words else ""
    if name == "answer" and words and not partner and LABELLED.fullmatch(words[0]) and at_hand.partners:
        return _told(what_is_missing(name, CALL, at_hand), put([at_hand.partners[0], *words]))
    if name == "answer" and partner and (each := _each_letter(words[1:], partner, at_hand)):
        return _told("each letter has its own answer", put([partner, *each]))
    if name == "propose" and partner and (moved := _moved(words[1:], partner, at_hand)):
        return _told("the slot that is moved stands behind --instead", put([partner, *moved]))
    if name == "night" and (with_calls := _with_calls(words, at_hand)):
        return _told("", put(with_calls))
    return ""


def _told(why: str, found: tuple[str, list[str]]) -> str:
    more, lines = found
    whys = [one for one in (why, more) if one]
    if not lines or not whys:
        return ""
    return message(whys, [(lines[0], "")]) if len(lines) == 1 else "\n  ".join([f"{'; '.join(whys)}; write", *lines])


def _each_letter(words: Sequence[str], call: str, at_hand: AtHand) -> list[str]:
    """`A,B=yes` and `all=yes` as an answer for each letter; nothing where no word is so."""
    made: list[str] = []
    for word in words:
        found = LABELLED.fullmatch(word)
        said = found[1].casefold() if found else ""
        labels = at_hand.labels_of(call) if said in (*EVERY, *BOTH) else []
        if found and re.search(r"[,+/&-]", said):
            letters = re.split(r"[,+/&-]", said.upper())
            is_run = "-" in said and len(letters) == 2
            labels = [chr(one) for one in range(ord(letters[0]), ord(letters[1]) + 1)] if is_run else letters
        if found and len(said) > 2 and not labels:
            return []
        made += [f"{label}={found[2]}" for label in labels] if found and labels else [word]
    return made if made != list(words) else []


def _moved(words: Sequence[str], call: str, at_hand: AtHand) -> list[str]:
    """A time for a slot that is named by its letter, with the slot's own date where none is told."""
    text = " ".join(words)
    found = MOVED.search(text)
    start = at_hand.slot_start(call, found[1]) if found else None
    rest = f"{text[: found.start()]} {text[found.end() :]}".split() if found else []
    if found is None or start is None or not any(re.search(r"\d", word) for word in rest):
        return []
    has_date = any(re.search(r"\d[./-]\d|\d\.$", word) for word in rest) or any(
        word.isalpha() and len(word) > 3 for word in rest
    )
    day = start.astimezone(at_hand.zone or dt.UTC).date()
    return [*([] if has_date else [f"{day}"]), *rest, "--instead", found[1].upper()]


def _with_calls(words: Sequence[str], at_hand: AtHand) -> list[str]:
    """The words of a night with the calls of those who are named as missing; nothing where nobody is named."""
    named = {word: call for word in words if (call := at_hand.partner_of(word))}
    is_odd = any(not is_call(word) for word in named) or any(word.casefold() in MISSING for word in words)
    if not named or len(words) == len(named) or not is_odd:
        return []
    return [named.get(word, word) for word in words if word.casefold() not in MISSING]


def sources_apart(words: Sequence[str]) -> list[list[str]]:
    """The words of two readings, each with what is said of both; nothing where one source or none is named."""
    flat = [half for word in words for half in (word.split("=") if sources_meant(word.split("=")[0]) else [word])]
    places = [at for at, word in enumerate(flat) if sources_meant(word)]
    figures = [flat[at + 1 : at + 2] for at in places]
    if len(places) < 2 or not all(one and re.fullmatch(r"[+-]?\d+([.,]\d+)?(?:dB)?", one[0]) for one in figures):
        return []
    rest = [word for at, word in enumerate(flat) if at not in places and at - 1 not in places]
    return [[*rest, flat[at], flat[at + 1]] for at in places]
