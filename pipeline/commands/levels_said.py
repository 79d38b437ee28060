"""What a noise reading is told by in place of its rise in decibels: two levels, in any order, or a ratio of powers.

A rise in decibels is the difference of two levels, and ten times the logarithm of a ratio of powers (IEC 60027-3).
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from pipeline.commands.at_hand import AtHand
from pipeline.commands.sources import sources_meant
from pipeline.commands.ways import Read, Way
from pipeline.inputs.moments_said import CLOCK, DATE, said_in
from pipeline.inputs.odd_characters import plain

NAMES = """
y y-factor yfactor factor rise level levels noise hot cold warm heiss heiß kalt chaud froid caliente frio frío caldo
freddo quente warmte koud varm kall kald gorąco zimno sky himmel ciel cielo from to von bis vs versus less minus
ratio
"""
LABELS = frozenset(NAMES.split())
HOT_OR_COLD = frozenset(NAMES[NAMES.index("hot") : NAMES.index("sky")].split())
NUMBER = r"[+-]?\d+(?:[.,]\d+)?"
LEVEL_UNIT = r"dB(?:FS|m|u|W|µV|uV)"
LEVEL = re.compile(rf"(?i)({NUMBER})\s*({LEVEL_UNIT}|dB)?")
TIMES = r"(?:x|×|times|-?fold|fach|mal|fois|veces|volte|vezes|keer|maal|gånger|ganger|krát|razy|:1)"
RATIO = re.compile(rf"(?i)(?:[x×](\d+(?:[.,]\d+)?)|(\d+(?:[.,]\d+)?)\s*{TIMES})")
# Two levels, two echoes (with &) or a ratio as one word, for the words to be placed by.
GATHERED = re.compile(r"([+-]?[\d.]+)[;&]([+-]?[\d.]+)|([\d.]+)x")


def gathered(words: Sequence[str], at_hand: AtHand, whys: list[str]) -> list[str]:
    """The words of a reading without labels and units of levels; two levels or a ratio as one word."""
    left = [half for word in words for half in _halves(word)]
    is_named = any(word.casefold().strip("=:").partition("=")[0] in HOT_OR_COLD for word in words)
    has_name = len(left) == len(words) and left != list(words)
    while any(_is_label(left, at) for at in range(len(left))):
        left = [word for at, word in enumerate(left) if not _is_label(left, at)]
    for at, word in enumerate(left):
        joined = " ".join(left[at : at + 2])
        if found := RATIO.fullmatch(word) or RATIO.fullmatch(joined):
            count = 1 if RATIO.fullmatch(word) else 2
            return [*left[:at], f"{(found[1] or found[2]).replace(',', '.')}x", *left[at + count :]]
    is_echo = any(sources_meant(word) == ("echo",) for word in left)
    left = _side_by_side(left)
    for at in range(len(left) - 1):
        pair = [LEVEL.fullmatch(plain(word)) for word in left[at : at + 2]]
        rest = [*left[:at], *left[at + 2 :]]
        if pair[0] and pair[1] and (is_named or _are_levels(pair[0], pair[1], rest, at, at_hand)):
            return [
                *left[:at],
                ("&" if is_echo else ";").join(_level(one, is_named) for one in pair if one),
                *left[at + 2 :],
            ]
    whys += ["the figure stands alone, without a name before it"] * has_name
    return left


def _side_by_side(words: list[str]) -> list[str]:
    """The words with the source before two signed figures that stand on its two sides: `sky -76.4 sun -62.3`."""
    for at in range(len(words) - 2):
        before, source, after = words[at : at + 3]
        signed = all(re.fullmatch(rf"[+-]\d+(?:[.,]\d+)?(?:{LEVEL_UNIT}|dB)?", plain(one)) for one in (before, after))
        if signed and sources_meant(source):
            return [*words[:at], source, before, after, *words[at + 3 :]]
    return words


def _level(found: re.Match[str], is_named: bool) -> str:
    """A figure with a point; one that its unit or its name makes a level has a sign."""
    is_level = (is_named or (found[2] or "dB").casefold() != "db") and found[1][0] not in "+-"
    return f"{'+' * is_level}{found[1].replace(',', '.')}"


def _halves(word: str) -> list[str]:
    """`-62.3/-76.4` and `cold=-76.4` in their parts; a unit of levels that stands alone falls away."""
    label, equals, value = word.partition("=") if "=" in word else word.partition(":")
    if equals and label.casefold() in LABELS and LEVEL.fullmatch(plain(value)):
        return [value]
    if re.fullmatch(rf"{NUMBER}({LEVEL_UNIT})?/[+-]{NUMBER.removeprefix('[+-]?')}({LEVEL_UNIT})?", plain(word)):
        return word.split("/")
    if arrow := re.fullmatch(rf"({NUMBER})\s*(?:->|=>|→)\s*({NUMBER})", plain(word)):
        return [one if one[0] in "+-" else f"+{one}" for one in (arrow[1], arrow[2])]
    return [] if re.fullmatch(rf"(?i){LEVEL_UNIT}", word) else [word]


def _is_label(words: Sequence[str], place: int) -> bool:
    """Whether a word names the figure behind it."""
    behind = words[place + 1 : place + 2]
    is_figure = any(one.fullmatch(plain(word)) for one in (LEVEL, RATIO) for word in behind)
    return words[place].casefold().strip("=:") in LABELS and is_figure


def _are_levels(one: re.Match[str], other: re.Match[str], rest: Sequence[str], place: int, at_hand: AtHand) -> bool:
    """Whether two figures beside each other are levels: by sign or unit, or as what is left when the time is told."""
    signs = [each[1][0] in "+-" or (each[2] or "dB").casefold() != "db" for each in (one, other)]
    if all(signs):
        return True
    before = any(sources_meant(word) for word in rest[:place])
    others = [word for word in rest if not sources_meant(word)]
    told = said_in(" ".join(others), (DATE, CLOCK), at_hand.season).readings
    return before and any(each.date and each.time for each in told)


def levels_read(text: str) -> Read | None:
    """The rise of two levels or of a ratio; None where a text is neither."""
    found = GATHERED.fullmatch(text)
    if found is None:
        return None
    if found[3]:
        rise = f"{10 * math.log10(float(found[3])):.1f}" if float(found[3]) > 0 else ""
        return Read((Way((rise,)),), f"{found[3]} times as much power is {rise} dB") if rise else Read()
    if "&" in text:
        ways = tuple(Way((one,), f"{one} is the echo's level") for one in (found[1], found[2]))
        return Read(ways, f"{found[1]} and {found[2]}: one figure is meant")
    hot, cold = sorted((float(found[1]), float(found[2])), reverse=True)
    rise = f"{round(hot - cold, 2):g}"
    if any(one[0] in "+-" for one in (found[1], found[2])):
        return Read(
            (Way((rise,)),),
            f"{found[1].lstrip('+')} and {found[2].lstrip('+')} are two levels; the rise is their difference, {rise}",
        )
    return Read(
        (Way((rise,), "both are levels, and the rise is their difference"), Way((found[1],), "that is the rise")),
        f"{found[1]} and {found[2]}: one figure is meant",
    )
