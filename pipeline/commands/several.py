"""A line that says several things at once, of which the command takes one: a line for each, with its own words."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from pipeline.commands.arguments_meant import is_call, is_clock
from pipeline.commands.at_hand import LOCATOR, AtHand
from pipeline.commands.lines import in_turn
from pipeline.commands.options_meant import Command
from pipeline.commands.renamed import sources_apart
from pipeline.inputs.moments_said import CLOCK, DATE, Reading, said_in

ONE_PARTNER = ("answer", "propose", "explain", "add")
ONE_TIME = ("propose", "explain")
# Words between two of the same kind.
JOINING = "and und y et e en og och ja i a & + then dann"
AND = frozenset(JOINING.split())
# Words between the ends of one stretch of time, and those before it.
REACHING = "- \u2013 to until till bis hasta até à au al a fino tot til do až"
FROM = "from between von ab zwischen de du da dalle desde entre tra vanaf tussen fra från mellan od mezi"
OR = re.compile(
    rf"(?i)(?:or|oder|ou|o|u|eller|of|tai|lub|nebo|või|ili|alternatively|sonst|{'|'.join(map(re.escape, AND))})"
)
PARTED = re.compile(r"([A-Za-z0-9/]+)[:,;=](.+)")
A_CALL = re.compile(r"(?i)(?=.*\d)[a-z0-9/]*\d[a-z]{1,4}(?:/[a-z0-9]+)?")
PutRight = Callable[[Sequence[str]], tuple[str, list[str]]]


def each_alone(command: Command, words: Sequence[str], at_hand: AtHand, put: PutRight) -> str:
    """Lines for several partners, or several times of one; empty where all is of one. `put` puts a line right."""
    groups = _by_partner(command, words, at_hand) if command.name in ONE_PARTNER else []
    what = f"{command.name} takes one {'station' if command.name == 'add' else 'partner'} at a time"
    if not groups and command.name in ONE_TIME and (begins := _beginning(words)):
        why, lines = put(begins)
        told = "; ".join(filter(None, [f"{command.name} takes one time, that at which it begins", why]))
        return "\n  ".join([f"{told}; write", *lines])
    if not groups and command.name in ONE_TIME:
        groups, what = _by_time(words, at_hand), f"{command.name} takes one time at a time"
    if command.name == "measure":
        groups, what = sources_apart(words), "measure takes one reading at a time"
    if len(groups) < 2:
        return ""
    found = [put(one) for one in groups]
    if not all(lines for _, lines in found):
        return ""
    whys = dict.fromkeys(why for why, _ in found if why and not why.startswith("the order"))
    return in_turn("; ".join([what, *whys]), [one for _, lines in found for one in lines])


def _by_partner(command: Command, words: Sequence[str], at_hand: AtHand) -> list[list[str]]:
    """Each call with the words behind it, or before it where every one is said so."""
    words = [half for word in words for half in _halves(word, at_hand)]
    is_new = command.name == "add"
    places = [at for at, word in enumerate(words) if (_is_new(word) if is_new else _partner(word, at_hand))]
    if len({words[at].upper() for at in places}) < 2:
        return []
    rest = words[len(places) :]
    if not is_new and rest and places == list(range(len(places))):
        return [[_bare(words[at]), *rest] for at in places]
    if places[0] == 0:
        ends = [*places[1:], len(words)]
        groups = [[_bare(words[at]), *_trimmed(words[at + 1 : end])] for at, end in zip(places, ends, strict=True)]
    elif places[-1] == len(words) - 1:
        begins = [0, *(at + 1 for at in places[:-1])]
        groups = [[_bare(words[at]), *_trimmed(words[begin:at])] for begin, at in zip(begins, places, strict=True)]
    else:
        return []
    if is_new and all(len(one) == 1 for one in groups):
        return groups
    return groups if all(len(one) > 1 for one in groups) else []


def _halves(word: str, at_hand: AtHand) -> list[str]:
    """`QF4LUM:A=yes` in its two parts."""
    found = PARTED.fullmatch(word)
    return [found[1], found[2]] if found and _partner(found[1], at_hand) else [word]


def _bare(word: str) -> str:
    return word.rstrip(":,;")


def _trimmed(words: Sequence[str]) -> list[str]:
    """Words without those at the ends that only join two partners."""
    kept = [bare for word in words if (bare := word.rstrip(",;"))]
    while kept and kept[-1].casefold() in AND:
        kept = kept[:-1]
    # A letter that comes first is a slot's.
    return kept[1:] if kept and kept[0].casefold() in AND and len(kept[0]) > 1 else kept


def _partner(word: str, at_hand: AtHand) -> str:
    """A partner by call, file or name."""
    bare = _bare(word)
    return bare.upper() if bare.upper() in at_hand.partners else at_hand.call_of(bare)


def _is_new(word: str) -> bool:
    """Whether a word is a call, and no locator or figure."""
    bare = _bare(word)
    return is_call(bare) and A_CALL.fullmatch(bare) is not None and not LOCATOR.fullmatch(bare)


def _beginning(words: Sequence[str]) -> list[str]:
    """The words with the first of two times alone, where a word between them makes one stretch of them."""
    times = [at for at, word in enumerate(words) if _has_time(word)]
    if len(times) != 2 or times[1] - times[0] != 2:
        return []
    before, between = words[times[0] - 1].casefold(), words[times[0] + 1].casefold()
    is_from = before in FROM.split()
    if between not in REACHING.split() and not (is_from and between in AND):
        return []
    return [*words[: times[0] - is_from], words[times[0]], *words[times[1] + 1 :]]


def _by_time(words: Sequence[str], at_hand: AtHand) -> list[list[str]]:
    """The call with each of several times: with the first one's date where it has none, and the last one's clock."""
    if not words or not _partner(words[0], at_hand):
        return []
    if len(words) > 2 and all(re.fullmatch("[A-Z]", word) for word in words[1:]):
        return [[words[0], word] for word in words[1:]]
    pieces: list[list[str]] = [[]]
    for word in words[1:]:
        is_next = _has_time(word) and any(map(_has_time, pieces[-1]))
        if OR.fullmatch(word) or is_next:
            pieces.append([])
        pieces[-1] += [] if OR.fullmatch(word) else [word]
    pieces = [one for one in pieces if one]
    if len(pieces) < 2 or not all(any(map(_has_time, one)) for one in pieces):
        return []
    first = pieces[0]
    date = first[: next(at for at, word in enumerate(first) if _has_time(word))]
    date = date or re.findall(r"^\d{4}-\d\d-\d\d", first[0])
    clock = [word for word in pieces[-1] if not re.search(r"\d", word)]
    made = []
    for piece in pieces:
        has_date = any(one.date for one in _read(piece, at_hand))
        dated = piece if has_date else [*date, *piece]
        made.append([words[0], *dated, *([] if any(one.zone for one in _read(dated, at_hand)) else clock)])
    return made


def _read(words: Sequence[str], at_hand: AtHand) -> tuple[Reading, ...]:
    return said_in(" ".join(words), (DATE, CLOCK), at_hand.season).readings


def _has_time(word: str) -> bool:
    """Whether a word tells a time of day, alone or with its date."""
    return is_clock(word) or re.match(r"\d{4}-\d\d-\d\d[Tt]\d", word) is not None
