"""Weekdays in the languages of the stations, and the calendar's words on which days and dates rest.

Names of months and days are those of Unicode CLDR (`data/calendar_words.json`). A word that means different days in
different languages is settled by the words beside it, or not at all.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable
from functools import cache
from pathlib import Path

from pipeline.inputs.odd_characters import plain

CALENDAR_WORDS = Path(__file__).resolve().parents[1] / "data" / "calendar_words.json"
Words = dict[str, dict[int, tuple[str, ...]]]
DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
# Where stations are on the air from; English first, so that its words go before those of others.
LANGUAGES = (
    "en", "de", "es", "fr", "it", "pt", "nl", "sv", "da", "nb", "fi", "pl", "cs", "sk", "sl", "hr", "hu", "ro", "bg",
    "ru",
    "uk", "el", "tr", "lt", "lv", "et", "ca", "eu", "gl", "ja", "zh", "ko", "he", "ar", "hi", "id", "is", "ga", "af",
)  # fmt: skip
# Groups of days in everyday words.
GROUPS = {
    "weekend": DAYS[5:], "weekends": DAYS[5:], "wochenende": DAYS[5:], "week-end": DAYS[5:], "finde": DAYS[5:],
    "weekdays": DAYS[:5], "weekday": DAYS[:5], "workdays": DAYS[:5], "werktags": DAYS[:5], "workingdays": DAYS[:5],
    "all": DAYS, "daily": DAYS, "everyday": DAYS, "any": DAYS, "always": DAYS, "alle": DAYS, "todos": DAYS, "alldays":
    DAYS,
    "täglich": DAYS, "tous": DAYS, "tutti": DAYS, "*": DAYS, "anyday": DAYS,
}  # fmt: skip
WITHOUT = re.compile(
    r"(?:not|no|except|without|never|nicht|ohne|außer|sauf|pas|excepto|salvo|sin|senza|ikke|inte)\s+(.+)", re.IGNORECASE
)
TO_WORDS = ["to", "bis", "till", "until", "through", "thru", "t/m", "tot", "au", "al", "à", "a", "e", "hasta"]
WORDED = "|".join(rf"\b{word}\b" for word in TO_WORDS)
TO = rf"\s*(?:\.\.\.?|…|/|~|-->?|->|=>|{WORDED}|\s-\s)\s*"
ANDS = ("and", "und", "y", "et", "e", "og", "och", "en", "i")


def folded(word: str) -> str:
    """A word without case, accents and full stops."""
    apart = unicodedata.normalize("NFD", word.casefold())
    return "".join(char for char in apart if not unicodedata.combining(char)).strip(" .")


@cache
def words(kind: str) -> Words:
    """`days` or `months` by their folded words: which number each stands for (from 0), and in which languages."""
    table: dict[str, dict[str, list[str]]] = json.loads(CALENDAR_WORDS.read_text(encoding="utf-8"))[kind]
    return {word: {int(number): tuple(names) for number, names in meanings.items()} for word, meanings in table.items()}


@cache
def days_meant(word: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """The days that a word stands for, each with the languages in which it does; an English word means one."""
    word = folded(word)
    if len(word) == 1 and word.isascii():
        return ()
    meanings = words("days").get(word) or {}
    if not meanings and word.isdigit():
        return ()
    if not meanings and len(word) >= 3:
        # A longer or shorter abbreviation than usual: tues, weds, thur, mitt.
        for name, numbers in words("days").items():
            if name.startswith(word) and len(word) > 2:
                for number, languages in numbers.items():
                    meanings = meanings | {number: (*meanings.get(number, ()), *languages)}
    english = {number: names for number, names in meanings.items() if "English" in names}
    return tuple((DAYS[number], names) for number, names in (english or meanings).items())


def day_advice(text: str) -> str | None:
    """What to write for a weekday, or for several in one text; None where the word is not known."""
    said = re.sub(
        r"\s+(?:nights?|evenings?|abends?|noches?|soirs?)$", "", plain(text).strip("[]()"), flags=re.IGNORECASE
    )
    said = said[:-1] if re.fullmatch(r"[A-Za-z]+days", said) and said.casefold() not in GROUPS else said
    without = WITHOUT.match(said)
    if without and (out := day_list(without[1]) or tuple(day for day, _ in days_meant(without[1])[:1])):
        return f"write {in_brackets(day for day in DAYS if day not in out)}."
    several = day_list(said)
    if several:
        return f"write {in_brackets(several)}."
    meant = days_meant(said)
    if len(meant) == 1:
        return f"did you mean '{meant[0][0]}'?"
    if meant:
        told = ", ".join(f"{day} ({in_languages(names)})" for day, names in meant)
        return f"it means different days: {told}; write the one you mean."
    # Letters that changed places: nothing else is guessed by spelling.
    turned = [day for day in DAYS if sorted(day) == sorted(said.casefold())]
    return f"did you mean '{turned[0]}'?" if turned else None


def in_languages(names: Iterable[str]) -> str:
    """A few of the languages."""
    names = list(names)
    return ", ".join(names[:2]) + (", ..." if len(names) > 2 else "")


def in_brackets(entries: Iterable[str]) -> str:
    """The entries as a list of a file."""
    return f"[{', '.join(entries)}]"


def day_list(text: str) -> tuple[str, ...]:
    """The days of `Mon-Fri`, `sat, sun`, `weekends`; empty where the text is no list of known days."""
    said = plain(text).casefold().strip()
    group = GROUPS.get(said.replace(" ", ""))
    if group:
        return group
    span = re.fullmatch(rf"(\w+\.?)(?:{TO}|\s*-\s*)(\w+\.?)", said)
    if span:
        ends = in_one_language((span[1], span[2]))
        return days_between(*ends) if ends else ()
    parts = [part for part in re.split(r"[,;/+&|\s]+", said) if part and part not in ANDS]
    listed: list[str] = []
    for part in parts:
        inner = day_list(part) if len(parts) > 1 and "-" in part else (part,)
        listed += inner
    days = in_one_language(listed) if len(listed) > 1 else ()
    return tuple(dict.fromkeys(days))


def days_between(first: str, last: str) -> tuple[str, ...]:
    """All days from one to another, past Sunday if need be."""
    start, end = DAYS.index(first), DAYS.index(last)
    return tuple(DAYS[number % 7] for number in range(start, end + 1 + (7 if end < start else 0)))


def in_one_language(parts: Iterable[str]) -> tuple[str, ...]:
    """The days of several words, each by a language that knows all of them; empty where that settles nothing."""
    meanings = [days_meant(part) for part in parts]
    if not meanings or not all(meanings):
        return ()
    common = set.intersection(*[{name for _, names in meant for name in names} for meant in meanings])
    days = []
    for meant in meanings:
        sure = meant if len(meant) == 1 else [pair for pair in meant if common & set(pair[1])]
        if len(sure) != 1:
            return ()
        days.append(sure[0][0])
    return tuple(days)


def day_beside(word: str, others: Iterable[str]) -> str | None:
    """The day of a word in the languages that know the days beside it; one of letters of its name where none knows it.

    `nd` beside `pt` and `sob` is Sunday: both are Polish, and of the days of Polish that are left niedziela has them.
    """
    known = [meant for meant in map(days_meant, others) if meant]
    if not known:
        return None
    common = set.intersection(*[{name for _, names in meant for name in names} for meant in known])
    mine = {day for day, names in days_meant(word) if common & set(names)}
    taken = {day for meant in known for day, names in meant if len(meant) == 1 or common & set(names)}
    if not days_meant(word) and len(folded(word)) > 1:
        letters = re.compile(".*?".join(map(re.escape, folded(word))))
        named = {(name, number) for name, of in words("days").items() for number, at in of.items() if common & set(at)}
        mine = {DAYS[number] for name, number in named if letters.match(name)} - taken
    return mine.pop() if len(mine) == 1 else None
