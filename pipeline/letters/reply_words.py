"""An answer in words: what a partner's own lines say of its slots, as far as that is plain; else nothing at all.

With the words of `reply_vocabulary`. Plain is only what is known to its last word: every letter that the lines name has
one answer, and nothing beside it may change that.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from pipeline.letters.reply_text import CUT
from pipeline.letters.reply_times import LATIN, Named, OpenSlot, foreign_times, named_in, slots_of_times, undotted
from pipeline.letters.reply_vocabulary import (
    ALL,
    ALL_BUT,
    BARE_YES,
    BETTER,
    BOTH,
    BUT,
    CHOSEN,
    COMPARED,
    DOUBT,
    FAINT,
    FAREWELL,
    FILLING,
    GREETING,
    KNOWN,
    NO,
    PARTICLES,
    PATTERNS,
    PERHAPS,
    PREFERRED,
    REGRET,
    UNCLEAR,
    YES,
    without_bare_yes,
    without_words,
)

# Between a word and its denial nothing of this stands.
PARTING = re.compile(r"[,:/、–—]")
# A full stop within a time parts nothing.
ENDS = " .!;。！；"
SENTENCE = re.compile(r"((?<![\d.])\d{1,2}\.\d{1,2}\.(?!\d)|[^.!?;。！？\n]|\.(?=\d))+[.!?;。！？]*")
LABEL = re.compile(rf"(?<![\d{LATIN}])[A-Z]{{1,2}}(?![\d{LATIN}])")
# A small letter means a slot where a sign says so.
SMALL_LABEL = re.compile(rf"(?<![\d{LATIN}])([a-z])(?=\s*[=:])")
# Capitals that stand alone for other things than a slot: words of some language, and the zone of UTC.
NO_LABELS = frozenset("AEIOYZ")
# Of slots that are over or were never offered people name these.
FIRST_LABELS = frozenset("BCDFGH")
# One of two letters, or one held against the other.
ONE_OF_TWO = re.compile(
    r"\b[A-Z]{1,2}\s*(?:[/<>|=+-]|\b(?:or|oder|ou|o|ó|u|oppure)\b|または|か)\s*(?:slot\s+)?[A-Z]{1,2}\b"
)
# Words that add nothing elsewhere, and part two letters.
PARTERS = frozenset({"only", "nur", "solo", "o", "prefer", "prefiero", "prendo", "take", "nehme"})
# Beside letters alone no other signs stand, and no figures.
PLAIN_SIGNS = re.compile(r"[^\W\d]|[\s,.;:!()&'’\"=、。：！]|(?<=\w)-(?=\w)")
CLAUSE = re.compile(r"[^,、;–—]+")
INITIAL = re.compile(r"\s*([A-Z])\.\s+(?=[A-Z])")
# A line as long as that goes on in the next one where it ends no sentence; so does one with such an end.
WRAPPED_AT = 45
GOES_ON = re.compile(r"(?:[,、]|\b(?:and|und|et|y|e|or|oder|ou|o|ni|noch|nor|but|aber|mais|pero|mas|ma))$")


@dataclass(frozen=True)
class Token:
    """One thing that a sentence says: `kind` is `word`, `label` or `time`; `named` is what a time names."""

    kind: str
    value: str
    at: int
    named: Named | None = None


@dataclass(frozen=True)
class Read:
    """What the lines say: a word by letter; `other_time` is a time named that no open slot has.

    `proposed` are the times of no slot that it asks for or names, `named` the letters that it names, by times too.
    """

    words: tuple[tuple[str, str], ...] = ()
    other_time: str = ""
    proposed: tuple[Named, ...] = ()
    named: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Sentence:
    """One sentence, or a part of it; `is_question` where it asks, `follows` where it follows a `but`."""

    text: str
    is_question: bool = False
    follows: bool = False


def read_words(lines: Sequence[str], slots: Sequence[OpenSlot]) -> Read:
    """What lines, cleaned as `reply_text` does it, say of the slots; no words where it is not plain."""
    by_label: dict[str, set[str]] = {}
    whole: set[str] = set()
    named: set[str] = set()
    by_time: set[str] = set()
    asked: list[Named] = []
    other_time = ""
    is_plain = not any(CUT in line or ALL_BUT.search(line) or is_initial(line) for line in lines)
    for sentence in sentences(lines):
        tokens, text = tokens_of(sentence.text, slots)
        named |= {token.value for token in tokens if token.kind == "label"}
        times = [token.named for token in tokens if token.named]
        by_time |= slots_of_times(times, slots)
        if sentence.is_question:
            asked += foreign_times(times, slots)
            is_plain = is_plain and not (CHOSEN.search(text.lower()) or is_strange(text, slots))
            continue
        tokens, other = named_slots(tokens, text, slots)
        if other is not None:
            other_time = other_time or other.text
            asked += foreign_times([other], slots)
        for label, word in said_in(sentence, text, tokens, slots):
            (by_label.setdefault(label, set()) if label else whole).add(word)
    if other_time or (len(named) > 1 and any(PREFERRED.search(line.lower()) for line in lines)):
        is_plain = False
    words = settled(by_label, whole, named, slots) if is_plain else {}
    return Read(tuple(sorted(words.items())), other_time, tuple(dict.fromkeys(asked)), frozenset(named | by_time))


def settled(
    by_label: dict[str, set[str]], whole: set[str], named: set[str], slots: Sequence[OpenSlot]
) -> dict[str, str]:
    """One word for each letter; none at all where one has two, or where something is said that none of them has."""
    said = {word for words in by_label.values() for word in words}
    if UNCLEAR in whole | said or named - set(by_label) or (by_label and whole - said):
        return {}
    by_label = by_label or said_of_all(whole, slots)
    if any(len(words) != 1 or UNCLEAR in words for words in by_label.values()):
        return {}
    return {label: next(iter(words)) for label, words in by_label.items()}


def said_of_all(words: set[str], slots: Sequence[OpenSlot]) -> dict[str, set[str]]:
    """Words that name no letter: a yes is plain where no slot has several times, a no is one to all of them."""
    has_choice = any(slot.instead_of for slot in slots)
    if words == {YES} and has_choice:
        return {slot.label: {UNCLEAR} for slot in slots}
    return {slot.label: words for slot in slots if words == {NO} or not slot.instead_of}


def sentences(lines: Sequence[str]) -> Iterator[Sentence]:
    """The sentences of the lines, parted as well before each `but`."""
    for line in joined(lines):
        for found in SENTENCE.finditer(FAREWELL.sub("hello", undotted(line))):
            asks = any(sign in found[0] for sign in "?？")
            parts = [found[0]] if asks else BUT.split(found[0])
            if not parts[-1].strip(ENDS):
                # What follows the `but` is not said.
                parts[-1] = "unsaid"
            for place, part in enumerate(parts):
                if part.strip(ENDS):
                    yield Sentence(part.strip(ENDS), asks, place > 0)


def joined(lines: Sequence[str]) -> list[str]:
    """The lines with those together that a mail program has wrapped."""
    found: list[str] = []
    for line in lines:
        before = found[-1].rstrip() if found else ""
        is_open = len(before.rpartition("\n")[2]) >= WRAPPED_AT and before[-1] not in ".!?:。！？"
        if before and (is_open or GOES_ON.search(before.lower())):
            found[-1] = f"{before} {line}"
        else:
            found.append(line)
    return found


def is_initial(line: str) -> bool:
    """Whether a line begins with an initial, as a name does, and no letter of a slot."""
    found = INITIAL.match(line)
    return bool(found and not is_known(line[found.end() :]))


def tokens_of(sentence: str, slots: Sequence[OpenSlot]) -> tuple[list[Token], str]:
    """Words, letters and times of a sentence, in order, a letter is one of an open slot; and its text without times."""
    labels = {slot.label for slot in slots}
    # Blanks in place of the times, so that none of their signs is read as anything else.
    named, text = named_in(sentence)
    times = [Token("time", one.text, one.at, one) for one in named]
    found = [Token("label", one[0], one.start()) for one in LABEL.finditer(text) if one[0] in labels]
    small = [one for one in SMALL_LABEL.finditer(text) if one[1].upper() in labels]
    found += [Token("label", one[1].upper(), one.start()) for one in small]
    return sorted([*times, *found, *words_of(text)], key=lambda token: token.at), text


def words_of(text: str) -> list[Token]:
    """The words of an answer in a sentence; a word and its denial are one, and of two others nobody knows which."""
    # As long as the text: what small letters would lengthen stays as it is.
    lowered = "".join(sign.lower() if len(sign.lower()) == 1 else sign for sign in text)
    found: list[Token] = [Token("word", YES, 0)] if BARE_YES.match(text) else []
    for word, pattern in PATTERNS:
        found += [Token("word", word, match.start()) for match in pattern.finditer(lowered)]
        lowered = pattern.sub(lambda match: " " * len(match[0]), lowered)
    return sorted(found, key=lambda token: token.at)


def merged(tokens: Sequence[Token], sentence: str) -> list[Token]:
    """Words that follow each other as one: `does not work` is a no, `maybe yes` a perhaps, `yes, no` nothing plain."""
    found: list[Token] = []
    for token in tokens:
        before = found[-1] if found else None
        if before is None or token.kind != "word" or before.kind != "word":
            found.append(token)
        elif before.value != token.value or token.value == NO:
            # A denial of a denial is no plain one.
            twice = token.value == before.value
            pair = {before.value, token.value}
            unclear = twice or UNCLEAR in pair or PARTING.search(sentence[before.at : token.at])
            found[-1] = Token("word", UNCLEAR if unclear else PERHAPS if PERHAPS in pair else NO, token.at)
    return found


def named_slots(tokens: Sequence[Token], text: str, slots: Sequence[OpenSlot]) -> tuple[list[Token], Named | None]:
    """The tokens with each time as the letter of its slot; beside them a time that belongs to none."""
    found: list[Token] = []
    typed = {one.value for one in tokens if one.kind == "label"}
    has_clock = any(one.named.clock for one in tokens if one.named)
    says = any(one.kind == "word" for one in tokens) or is_bare(text, set())
    for token in tokens:
        if token.named is None:
            found.append(token)
            continue
        if not token.named.clock and (typed or has_clock or not says):
            # A day beside a letter or a time, or in a sentence of other things, says nothing of its own.
            continue
        before = {one.value for one in found if one.kind == "label"}
        edges = [edge for slot in slots if slot.label in before for edge in (slot.begins, slot.ends)]
        if any(token.named.is_edge(edge) for edge in edges):
            continue
        labels = [slot.label for slot in slots if token.named.is_edge(slot.begins)]
        if len(labels) != 1 or before & typed:
            # A time beside a letter whose slot has another one, or a time of several slots, names nothing plainly.
            return [], token.named
        found.append(Token("label", labels[0], token.at))
    return found, None


def said_in(sentence: Sentence, text: str, tokens: Sequence[Token], slots: Sequence[OpenSlot]) -> list[tuple[str, str]]:
    """Letter and word of each answer in a sentence; the letter is empty where the sentence names none."""
    words = {token.value for token in tokens if token.kind == "word"}
    labels = [token.value for token in tokens if token.kind == "label"]
    text = without_greetings(text, tokens)
    if not words and not labels:
        unsure = is_conditional(text) or CHOSEN.search(text.lower()) or is_strange(text, slots)
        return [("", UNCLEAR)] if unsure or (sentence.follows and not is_known(text)) else []
    if is_doubtful(text, labels, {slot.label for slot in slots}) or not is_known(text):
        return [(label, UNCLEAR) for label in labels or [""]]
    lowered = text.lower()
    if (words == {YES} and REGRET.search(lowered)) or (NO in words and PREFERRED.search(lowered)):
        return [(label, UNCLEAR) for label in labels or [""]]
    if not words:
        return [(label, YES if is_bare(text, set(labels)) else UNCLEAR) for label in labels]
    if not labels:
        return [("", word_of_all(sentence.text, text, tokens, {slot.label for slot in slots}))]
    return by_clauses(tokens, text) or in_turn(merged(tokens, text), text)


def word_of_all(sentence: str, text: str, tokens: Sequence[Token], labels: set[str]) -> str:
    """What a sentence without a letter says of all slots."""
    words = {token.value for token in merged(tokens, sentence)}
    word = next(iter(words)) if len(words) == 1 else UNCLEAR
    lowered = text.lower()
    both, every = BOTH.search(lowered), ALL.search(lowered)
    if (both and len(labels) != 2) or ((both or every) and word != YES):
        return UNCLEAR
    small = {sign.upper() for sign in re.findall(r"(?<![\w'’])[a-z](?![\w'’])", without_words(text))}
    if small & labels:
        return UNCLEAR
    faint = not words_of(FAINT.sub(lambda found: " " * len(found[0]), lowered))
    return UNCLEAR if faint and not (both or every) else word


def without_greetings(text: str, tokens: Sequence[Token]) -> str:
    """A sentence with blanks for the parts that greet or thank and name nothing."""
    for found in CLAUSE.finditer(text):
        holds = any(found.start() <= token.at < found.end() for token in tokens)
        if not holds and GREETING.match(found[0]):
            text = text[: found.start()] + " " * len(found[0]) + text[found.end() :]
    return text


def is_strange(text: str, slots: Sequence[OpenSlot]) -> bool:
    """Whether a letter is named that waits for no answer."""
    return bool({one[0] for one in LABEL.finditer(text)} & (FIRST_LABELS - {slot.label for slot in slots}))


def is_doubtful(text: str, labels: Sequence[str], known: set[str]) -> bool:
    """Whether a sentence holds one slot against another, picks one without its letter, or names a letter of no slot;
    or makes a condition.
    """
    strange = {one[0] for one in LABEL.finditer(text) if len(one[0]) == 1} - known - NO_LABELS
    lowered = text.lower()
    compared = COMPARED.search(lowered) or (len(set(labels)) > 1 and PREFERRED.search(lowered))
    chosen = not labels and CHOSEN.search(lowered)
    return bool(
        strange or "%" in text or (labels and compared) or chosen or is_conditional(text) or ONE_OF_TWO.search(text)
    )


def is_conditional(text: str) -> bool:
    """Whether something hangs on what else happens, or is taken back in part."""
    return bool(DOUBT.search(without_words(without_bare_yes(text))))


def is_bare(text: str, labels: set[str]) -> bool:
    """Whether a sentence without its times says nothing beside letters and words that add nothing."""
    if labels and PLAIN_SIGNS.sub("", text):
        return False
    adding = re.findall(rf"[{LATIN}]+|[^\W\d_{LATIN}]+", LABEL.sub(" ", text))
    return all(word.lower() in FILLING or (len(labels) == 1 and word.lower() in BETTER) for word in adding)


def is_known(text: str) -> bool:
    """Whether a text holds nothing but letters, times, words of an answer and words that add nothing."""
    rest = LABEL.sub(" ", SMALL_LABEL.sub(" ", BUT.sub(" ", without_bare_yes(named_in(text)[1])))).lower()
    rest = ALL.sub(" ", BOTH.sub(" ", REGRET.sub(" ", without_words(rest))))
    rest = PARTICLES.sub(" ", re.sub("お願いします|のほうがいい|のほうが", " ", rest))
    return all(word in KNOWN for word in re.findall(r"[^\W\d_]+(?:['’][^\W\d_]+)?", rest) for word in _pieces(word))


def _pieces(word: str) -> list[str]:
    return [word] if word in KNOWN else re.split("['’]", word)


def is_all_known(text: str) -> bool:
    """Whether a text holds a word of an answer, and beside it nothing but letters, times and words that add nothing."""
    return bool(words_of(named_in(text)[1])) and is_known(text)


def by_clauses(tokens: Sequence[Token], text: str) -> list[tuple[str, str]]:
    """`C yes please, not B`: each part between commas by itself; empty where one of them has a letter alone.

    A word alone, as in `Yes, A is fine, B not`, goes with the answer beside it.
    """
    found: list[tuple[str, str]] = []
    lone: list[str] = []
    for clause in CLAUSE.finditer(text):
        within = merged([one for one in tokens if clause.start() <= one.at < clause.end()], text)
        labels = {one.value for one in within if one.kind == "label"}
        words = {one.value for one in within if one.kind == "word"}
        if labels and not words:
            return []
        if labels:
            said = in_turn(within, text)
            found += [(label, UNCLEAR if set(lone) - {said[0][1]} else word) for label, word in said]
            lone = []
        elif words and not found:
            lone += sorted(words)
        elif found and words - {found[-1][1]}:
            found.append((found[-1][0], UNCLEAR))
    return found


def in_turn(tokens: Sequence[Token], text: str) -> list[tuple[str, str]]:
    """`A yes, B and C no` or `yes to A, no to B and C`: letters and words in turn, as the sentence begins."""
    ordered = list(tokens)
    words = {token.value for token in ordered if token.kind == "word"}
    labels = [token for token in ordered if token.kind == "label"]
    gaps = [text[one.at : other.at] for one, other in pairwise(ordered) if one.kind == other.kind == "label"]
    # `A, B no` may be a yes to A.
    parted = any(is_parted(gap) for gap in gaps) or (NO in words and gaps and gaps[-1][1:].strip() == ",")
    ends = {ordered[0].kind, ordered[-1].kind}
    if parted or (ends == {"word"} and len(words) > 1):
        return [(token.value, UNCLEAR) for token in labels]
    if len(words) == 1 and ends != {"label"}:
        return [(token.value, next(iter(words))) for token in labels]
    if ordered[0].kind == "word":
        ordered.reverse()
    found, waiting = [], []
    for token in ordered:
        if token.kind == "label":
            waiting.append(token.value)
        else:
            found += [(label, token.value) for label in waiting]
            waiting = []
    return [*found, *((label, UNCLEAR) for label in waiting)]


def is_parted(between: str) -> bool:
    """Whether what stands from one letter to the next does more than join them."""
    words = re.findall(r"[^\W\d_]+", LABEL.sub(" ", between, count=1).lower())
    return any(word in PARTERS or word not in FILLING | {"と", "や", "noch", "both"} for word in words)
