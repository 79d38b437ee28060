"""The keys and values of one group of a file whatever its brackets, dashes, commas and columns say.

Where each key belongs is known from the contract alone, so that a slip in the layout hides nothing of what was meant.
Nothing is guessed: a group with a word that stands for no key, or with the same key twice, gives no reading.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from pipeline.inputs import clocks_said, days_said, entries_said, keys_said, scalars
from pipeline.inputs.line_scan import GROUP_LISTS, TEXTS, without_comment
from pipeline.inputs.loose_entries import ENDS, entries_of
from pipeline.inputs.loose_names import BY_NAME, NAMED, is_group, is_name, names_below, resolved
from pipeline.inputs.odd_characters import plain

# Keys whose value is a list of words.
WORDS = ("days", "modes", "months", "nights", "unavailable_dates", "busy", "checklist")
# A word, and what may part it from its value; a second word may belong to it.
KEY = re.compile(
    r"(?<![\w.@/:-])([\"']?)([^\W_][\w.]*(?: [^\W\d_][\w.]*)?)\1\s*(=>|->|:=|::|:|=|;(?=\s))(?=\s|$|[^\s/\\:=])"
)
# A key of the contract with nothing but a blank behind it.
BARE = re.compile(
    r"(?<![\w.@/:-])([a-z]+(?:_[a-z0-9]+)+)\s+(?=[\"'\[{+-]?[\w.])|(?:^\s*|[{,]\s*|-\s+)\b([a-z]+)\s+(?=[\"'\[{\d])"
)
HEAD = re.compile(r"\s*(?:-\s+)?(?:\[[\w.]+\]\s*$)?[\"']?[\w. ]*?[\"']?\s*(?:=>|->|:=|::|:|=|\s|$)[\"']?\s*")
# A key that nothing is known of, inside the value of another.
UNREAD = re.compile(r"[^\W\d]\w*\s*(?:[:=]\s|=)")
# What begins an entry of a list, a dash or what people put for it.
MARK = re.compile(r"\s*(?:[-*\u2022]\s*(?=[^\d\s])|-\s+|\(?\d{1,2}[.)]\s+(?=[^\d\s]))")
# A key for both ends of a stretch.
HOURS, ENDS_OF = ("hours", "time", "times", "zeit", "uhrzeit", "horas", "heures", "ore", "uren", "tid"), ("from", "to")
# Days with their hours in the same value.
HOURS_BEHIND = re.compile(r"(.*?[^\s,;])[\s,;]+(\d{1,2}(?:[:.h]\d\d)?\s*(?:-|to|bis|a|à)\s*\d{1,2}(?:[:.h]\d\d)?)")
LONGEST = 400
# Groups that one value may stand for.
ALONE_TOO = ("inclinometer_offset_deg", "slot_minutes", "solar_activity")


@dataclass(frozen=True)
class Leaf:
    """One key with its value as it was written, the line it stands in, and the word that stood for the key."""

    line: int
    place: tuple[str | int, ...]
    value: str
    word: str


@dataclass
class Reading:
    """What a group says: its leaves in order, the lines of its headings by their places, and the data put together."""

    key: str
    leaves: list[Leaf] = field(default_factory=list)
    headings: dict[tuple[str | int, ...], int] = field(default_factory=dict)
    renamed: dict[str, str] = field(default_factory=dict)

    def data(self) -> Any:
        """The value of the group as the reader of files takes it."""
        root: dict[Any, Any] = {}
        for leaf in self.leaves:
            holder: Any = root
            for step in leaf.place[:-1]:
                holder = holder.setdefault(step, {})
            holder[leaf.place[-1]] = value_of(leaf)
        return lists_of(root).get(self.key, "")


def lists_of(node: Any) -> Any:
    """Mappings by number as lists."""
    if not isinstance(node, dict):
        return node
    made = {key: lists_of(entry) for key, entry in node.items()}
    return list(made.values()) if made and all(isinstance(key, int) for key in made) else made


def value_of(leaf: Leaf) -> Any:
    """A value as the reader takes it: the words of a list apart."""
    name = str(next(part for part in reversed(leaf.place) if not isinstance(part, int)))
    if name not in WORDS or not isinstance(leaf.place[-1], str):
        return leaf.value
    inside = leaf.value.strip("[](){} ")
    if name == "days":
        return list(days_said.day_list(inside)) or [part for part in re.split(r"[,;\s]+", inside) if part]
    return [part.strip("\"' ") for part in re.split(r"[,;]+" if name == "checklist" else r"[,;\s]+", inside) if part]


def read_loosely(root: Any, key: str, lines: Mapping[int, str]) -> Reading | None:
    """One group, `lines` by their numbers with its heading first; None where a part of it stands for nothing.

    Raises nothing: a text that no person wrote gives None.
    """
    reading = Reading(key)
    names = names_below(root, key)
    if not names:
        return one_value(reading, lines)
    builder = Builder(reading, names)
    for number, line in lines.items():
        body = plain_body(line)
        if len(body) > LONGEST:
            return None
        if not body.strip():
            continue
        if not builder.take(number, body):
            return None
    for entry in sorted(builder.going_on):
        builder.with_days_of_the_one_before(entry)
    return reading if reading.leaves else None


def one_value(reading: Reading, lines: Mapping[int, str]) -> Reading | None:
    """A key that holds one value or a list of words, which may stand below it."""
    bodies = {number: plain_body(line) for number, line in lines.items() if plain_body(line).strip()}
    head = HEAD.match(bodies[min(bodies)]) if bodies else None
    if head is None or reading.key in (*TEXTS, "email") or any("\\" in body for body in bodies.values()):
        return None
    first, key = min(bodies), reading.key
    reading.headings[(key,)] = first
    bodies[first] = bodies[first][head.end() :]
    texts = {number: body.strip() for number, body in bodies.items() if body.strip(f"{ENDS}{{}}[]()\"'")}
    if list(texts) == [first]:
        reading.leaves = [Leaf(first, (key,), texts[first].strip(f"{ENDS}{{}}[]()\"'"), key)]
        return reading
    if key not in WORDS or first in texts:
        return None
    for at, (number, text) in enumerate(texts.items()):
        mark = MARK.match(text)
        reading.leaves.append(Leaf(number, (key, at), text[mark.end() if mark else 0 :].strip("\"' "), ""))
    return reading


def plain_body(line: str) -> str:
    """A line less its comment, with plain quotes, dashes and blanks."""
    text = without_comment(line)
    return text if text.isascii() else " " * (len(text) - len(text.lstrip())) + plain(text)


class Builder:
    """Puts the words of a group's lines where the contract has them."""

    def __init__(self, reading: Reading, names: Mapping[str, tuple[str, ...]]) -> None:
        self.reading, self.names = reading, names
        self.band: str | None = None
        self.entry = -1
        self.listed = reading.key in GROUP_LISTS
        self.began = False
        # Stretches that begin in the line of another, by a key that it has already.
        self.going_on: set[int] = set()

    def take(self, number: int, body: str) -> bool:
        """One line; False where a part of it stands for nothing that is known."""
        if not self.began:
            self.began = True
            head = HEAD.match(body)
            if head is None:
                return False
            self.reading.headings[(self.reading.key,)] = number
            whole, body = body, body if self.dotted(body) else body[head.end() :]
            alone = keys_said.is_band(body.strip()) if self.reading.key == "bands" else None
            section = re.fullmatch(r"\s*\[bands\.([\w.]+)\]\s*", whole)
            alone = keys_said.is_band(section[1]) if section else alone
            if alone:
                return self.keyed(number, alone, alone, "", False)
        banded = keys_said.is_band(body.strip(" -*:\u2022")) if self.reading.key == "bands" else None
        if banded:
            return self.keyed(number, banded, banded, "", False)
        if self.dotted(body):
            word, _, rest = body.strip().partition(":")
            steps = re.sub(r"\b1\.25", "1\0", word).split(".")[1:]
            body = f"{': '.join(steps)}:{rest}".replace("\0", ".25")
        if self.listed and not re.search(r"[\d:=]", body) and self.names_columns(body):
            return True
        dash = MARK.match(body)
        named = NAMED.fullmatch(body) if self.reading.key in BY_NAME else None
        if named and is_name(self.reading.key, named[1], self.names):
            holder, inside = BY_NAME[self.reading.key], (named[2] or "").strip()
            begun = self.keyed(number, holder, holder, named[1], True)
            return begun and (not inside.strip("{} ") or self.take(number, inside.strip("{}")))
        alone = resolved(body.strip(" :"), self.names) if re.fullmatch(r"\s*[\w ]+:?\s*", body) else None
        if alone and is_group(alone, self.names):
            return self.keyed(number, body.strip(" :"), alone, "", False)
        parts = list(self.parts(body[dash.end() if dash else 0 :]))
        fresh = bool(dash) and self.listed
        for word, name, value in parts:
            if name is None:
                if not self.keyless(number, value):
                    return False
                continue
            if name not in TEXTS and UNREAD.search(value):
                return False
            if not self.keyed(number, word, name, value, fresh):
                return False
            fresh = False
        return True

    def names_columns(self, body: str) -> bool:
        """Whether a line holds nothing but the names of keys, as the head of a table does."""
        words = [word for word in re.split(r"[\s,;|/]+", body) if word]
        return len(words) > 1 and all(resolved(word, self.names) for word in words)

    def dotted(self, body: str) -> bool:
        """Whether a line names its place with points between the keys."""
        return body.strip().startswith(f"{self.reading.key}.")

    def parts(self, body: str) -> Iterator[tuple[str, str | None, str]]:
        """Word, key and value in turn; what stands before the first key has none."""
        found = [(start, end, word, name) for start, end, word, name in self.keys(body)]
        if not found or body[: found[0][0]].strip(" {[(,;-"):
            first = body[: found[0][0]] if found else body
            if first.strip(f"{ENDS}{{}}[]()\"'"):
                yield "", None, first
        for at, (_, end, word, name) in enumerate(found):
            value = body[end : found[at + 1][0] if at + 1 < len(found) else len(body)]
            yield word, name, bare_value(name, value)

    def keys(self, body: str) -> Iterator[tuple[int, int, str, str]]:
        """Where each key stands: start, where its value begins, its word and its name."""
        quoted = [
            found.span() for found in re.finditer(r"(?<=[:=,{\[]\s)([\"'])(?:(?!\1).)*\1(?=\s*(?:[,;}\])]|$))", body)
        ]
        at = 0
        while at < len(body):
            found = KEY.search(body, at)
            bare = BARE.search(body, at)
            word = (bare[1] or bare[2]) if bare else ""
            name = word if word in self.names else self.meant(word)
            if bare and name and (not found or bare.start() < found.start()):
                yield bare.start(1 if bare[1] else 2), bare.end(), word, name
                at = bare.end()
                continue
            if found is None:
                return
            at = found.end()
            if any(start < found.start(2) < end for start, end in quoted):
                continue
            word, start = found[2], found.start()
            if found[3] == ";" and (word.split(" ")[-1] not in self.names or ";" in body[: found.start()]):
                at = found.end()
                continue
            name = self.name_of(word, body[at:])
            if name is None and " " in word:
                word, start = word.split(" ")[1], found.start(2) + len(word.split(" ")[0]) + 1
                name = self.name_of(word, body[at:])
            if name is not None:
                yield start, found.end(), word, name

    def meant(self, word: str) -> str | None:
        """The one key that a word without a colon stands for by what operators call it."""
        keys = [name for name in keys_said.keys_meant(word) if name in self.names] if word else []
        return keys[0] if len(keys) == 1 else None

    def name_of(self, word: str, rest: str) -> str | None:
        """What a word before a colon stands for: a key, a band, a day with its hours, a point's azimuth."""
        if self.reading.key == "bands" and (keys_said.is_band(word) or word.casefold() == "band"):
            return keys_said.is_band(word) or word
        if self.reading.key == "horizon" and (scalars.NUMBER.fullmatch(word) or word.upper() in entries_said.COMPASS):
            return word
        if self.reading.key == "landmarks" and re.match(r"\s*\d+(?:[.,]\d+)?\s*°?\s*$", rest):
            return resolved(word, self.names) or word
        if (
            self.reading.key == "available"
            and word.casefold() in HOURS
            and clocks_said.hours_meant(bare_value("", rest))
        ):
            return HOURS[0]
        if self.reading.key == "available" and days_said.days_meant(word) and re.match(r"\s*[\"']?\d", rest):
            return word
        return None if word.isdigit() else resolved(word, self.names)

    def keyed(self, number: int, word: str, name: str, value: str, fresh: bool) -> bool:
        """A key with its value; False where it stands there already or has no place."""
        if self.reading.key == "bands" and word.casefold() == "band" and keys_said.is_band(value):
            name, value = str(keys_said.is_band(value)), ""
        if name not in self.names and keys_said.is_band(name) and self.reading.key == "bands":
            self.band = name
            self.reading.headings[("bands", name)] = self.reading.headings.get(("bands", name), number)
            return not value
        both = clocks_said.hours_meant(value) if name == HOURS[0] else None
        if both and self.entry >= 0:
            ends = zip(ENDS_OF, both, strict=True)
            return all(self.add(Leaf(number, (self.reading.key, self.entry, end), at, word)) for end, at in ends)
        if name not in self.names:
            return self.keyless(number, f"{word} {value}")
        steps = self.names[name]
        if keys_said.BAND in steps and self.band is None:
            return False
        place: list[str | int] = [self.reading.key]
        if self.listed:
            if fresh or self.entry < 0 or any(leaf.place[:3] == (*place, self.entry, name) for leaf in self.leaves):
                self.entry += 1
                self.going_on |= set() if fresh or not self.entry else {self.entry}
            place.append(self.entry)
        place += [str(self.band) if step == keys_said.BAND else step for step in steps]
        if word != name:
            self.reading.renamed[word] = name
        if not value and is_group(name, self.names):
            self.reading.headings[tuple(place)] = number
            return True
        if value and is_group(name, self.names) and name not in ALONE_TOO:
            return self.spread(number, tuple(place), value)
        hours = HOURS_BEHIND.fullmatch(value) if name == "days" else None
        both = clocks_said.hours_meant(hours[2]) if hours else None
        if hours and both:
            found = zip(("days", "from", "to"), (hours[1], *both), strict=True)
            return all(self.add(Leaf(number, (*place[:-1], end), text, word)) for end, text in found)
        unit = keys_said.unit_in(word, name)
        value = f"{value} {unit}" if unit and scalars.NUMBER.fullmatch(value.replace(",", ".")) else value
        return self.add(Leaf(number, tuple(place), value, word))

    def with_days_of_the_one_before(self, entry: int) -> None:
        """Hours of the same days: a second stretch that names none has those of the first."""
        days = {
            leaf.place[1]: leaf for leaf in self.leaves if leaf.place[:1] == ("available",) and "days" in leaf.place
        }
        mine = [at for at, leaf in enumerate(self.leaves) if leaf.place[:2] == ("available", entry)]
        if mine and entry not in days and entry - 1 in days:
            given = days[entry - 1]
            self.leaves.insert(mine[0], Leaf(self.leaves[mine[0]].line, ("available", entry, "days"), given.value, ""))

    @property
    def leaves(self) -> list[Leaf]:
        """Those so far."""
        return self.reading.leaves

    def add(self, leaf: Leaf) -> bool:
        """A leaf; False where another has its place."""
        if any(one.place == leaf.place for one in self.leaves):
            return False
        self.leaves.append(leaf)
        return True

    def keyless(self, number: int, text: str) -> bool:
        """Words without a key: entries of a list, or a group in one value."""
        made = entries_of(self.reading.key, text)
        if not made:
            return False
        for keys in made:
            self.entry += 1
            holder = (self.reading.key, self.entry) if self.listed else (self.reading.key,)
            if not all(self.add(Leaf(number, (*holder, name), value, "")) for name, value in keys.items()):
                return False
        return True

    def spread(self, number: int, place: tuple[str | int, ...], value: str) -> bool:
        """A group that has a bare value, such as a dish's diameter."""
        made = entries_of(str(place[-1]), value)
        return len(made) == 1 and all(
            self.add(Leaf(number, (*place, name), text, str(place[-1]))) for name, text in made[0].items()
        )


def bare_value(name: str, value: str) -> str:
    """A value less the marks that part it from the next, and less brackets and quotes that belong to no text."""
    text = value.strip(ENDS)
    if name in WORDS:
        return text.strip(f"{ENDS}.{{}}()")
    if name in TEXTS:
        while (
            text and text[-1] in "}])" and text.count(text[-1]) > text.count({"}": "{", "]": "[", ")": "("}[text[-1]])
        ):
            text = text[:-1].rstrip(ENDS)
    else:
        text = text.strip(f"{ENDS}{{}}[]()")
    text = text.removesuffix(" -").strip()
    if len(text) > 1 and text[0] == text[-1] and text[0] in "\"'":
        return text[1:-1].strip()
    return text if name in TEXTS else text.strip("\"'")
