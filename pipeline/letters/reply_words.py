"""An answer in words: what a partner's own lines say of its slots, as far as that is plain; else nothing at all.

Words of English, German, French, Spanish, Portuguese, Italian and Japanese, from memory and unread by their speakers:
what comes out is only ever offered to the operator, beside the words themselves.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

YES, NO, PERHAPS = "yes", "no", "perhaps"
UNCLEAR = ""
# Word, expressions in Latin letters, and in Japanese; in lower case, accents kept. What stands first is taken first:
# "no problem" is a yes, "not sure" is no no.
EXPRESSIONS: tuple[tuple[str, str, str], ...] = (
    (
        YES,
        r"no problem(?:s|a)?|not a problem|kein problem|(?:pas|aucun) (?:de )?problème|sin problemas?"
        r"|no hay problema|sem problemas?|nessun problema|senza problemi",
        r"問題(?:ない|ありません|なし)",
    ),
    (
        PERHAPS,
        r"not (?:yet )?(?:sure|certain)|perhaps|maybe|possibly|vielleicht|(?:noch )?nicht sicher|eventuell"
        r"|möglicherweise|peut[- ]être|pas (?:encore )?sûre?|quizás?|tal vez|no estoy segur[oa]|talvez"
        r"|não (?:tenho certeza|sei)|forse|non sono sicur[oa]|non so ancora",
        r"たぶん|多分|もしかすると|未定|わかりません|分かりません",
    ),
    (
        NO,
        r"no|nope|not|cannot|can['’]?t|doesn['’]?t|unable|impossible|neither|nor|decline[ds]?"
        r"|nein|nicht|kein|keine|weder|unmöglich|abgesagt|non|impossibles?|pas|ni|imposible|não|nao|nem|impossível"
        r"|né|impossibile",
        r"いいえ|無理|不可能?|だめ|ダメ|駄目|ではありません|できません|出来ません|行けません|都合が(?:悪い|つきません)",
    ),
    (
        YES,
        r"yes|yep|ok|okay|confirm(?:ed)?|agreed?|accept(?:ed)?|(?:is|are) fine|suits?(?: me)?|works?(?: for me)?"
        r"|ja|jawohl|passt|einverstanden|zugesagt|bestätigt|geht(?= (?:klar|gut|bei mir)|$|,)|oui|d['’]accord"
        r"|confirmée?s?|(?:me )?convient|sí|de acuerdo|vale|confirmad[oa]s?|me va bien|sim|de acordo|combinado|pode ser"
        r"|sì|va bene|confermat[oa]",
        r"はい|了解|承知|大丈夫|可能|オーケー|お願いします|いいです",
    ),
)
LATIN = r"A-Za-z\u00c0-\u024f"
PATTERNS = tuple(
    (word, re.compile(rf"(?<![{LATIN}])(?:{latin})(?![{LATIN}])|{japanese}")) for word, latin, japanese in EXPRESSIONS
)
# Without its accent this word means "if" as well: it is a yes where it stands for a whole sentence or a comma follows.
BARE_YES = re.compile(r"[Ss]i(?=\s*(?:,|$))")
# Around a letter or a time that stands alone these words add nothing.
FILLERS = """
slot slots option options please bitte svp s il vous plaît por favor per favore e and und et y the der die das
le la el las les los o für pour para for to zu à a i d prefer take nehme ich je prends prefiero prendo only
nur solo just thanks thank you danke merci gracias obrigado obrigada grazie at um om às alle on am utc uhr z
monday tuesday wednesday thursday friday saturday sunday mon tue wed thu fri sat sun montag dienstag mittwoch
donnerstag freitag samstag sonntag lundi mardi mercredi jeudi vendredi samedi dimanche lunes martes miércoles
jueves viernes sábado domingo segunda terça quarta quinta sexta feira lunedì martedì mercoledì giovedì venerdì
sabato domenica march april may で を に は へ です
"""
FILLING = frozenset(FILLERS.split())
BUT = re.compile(r"\b(?:but|aber|sondern|mais|pero|sino|mas|ma|however)\b|しかし|ですが", re.IGNORECASE)
# Between a word and its denial nothing of this stands.
PARTING = re.compile(r"[,:、–—]")
# A full stop within a time parts nothing.
ENDS = " .!;。！；"
SENTENCE = re.compile(r"([^.!?;。！？\n]|\.(?=\d))+[.!?;。！？]?")
CLOCK = re.compile(
    r"(?<![\d:.])(?P<hour>[01]?\d|2[0-4])(?:(?P<sign>[:h時])(?P<minute>[0-5]\d)?分?|\.(?P<dotted>[0-5]\d)(?=\s*(?:uhr|utc|h\b))"
    r"|(?P<packed>[0-5]\d)?(?=\s*(?:uhr|utc|z\b|am\b|pm\b|a\.m|p\.m|o'clock)))\s*(?P<half>am\b|pm\b|a\.m|p\.m)?",
    re.IGNORECASE,
)
LABEL = re.compile(rf"(?<![\d{LATIN}])[A-Z]{{1,2}}(?![\d{LATIN}])")
# A small letter means a slot where a sign says so.
SMALL_LABEL = re.compile(rf"(?<![\d{LATIN}])([a-z])(?=\s*[=:])")


@dataclass(frozen=True)
class OpenSlot:
    """A slot that waits for an answer: its letter, and the clock times at which it begins and ends, by every clock."""

    label: str
    starts: frozenset[str]
    ends: frozenset[str]


@dataclass(frozen=True)
class Token:
    """One thing that a sentence says: `kind` is `word`, `label` or `time`."""

    kind: str
    value: str
    at: int


@dataclass(frozen=True)
class Read:
    """What the lines say: a word by letter; `other_time` is a time named that no open slot has."""

    words: tuple[tuple[str, str], ...] = ()
    other_time: str = ""


def clock_times(moment: dt.datetime, zones: Collection[dt.tzinfo | None]) -> frozenset[str]:
    """An instant as `03:15` in UTC and by each clock."""
    return frozenset(f"{moment.astimezone(zone):%H:%M}" for zone in (dt.UTC, *(one for one in zones if one)))


def read_words(lines: Sequence[str], slots: Sequence[OpenSlot]) -> Read:
    """What lines, cleaned as `reply_text` does it, say of the slots; no words where it is not plain."""
    by_label: dict[str, set[str]] = {}
    whole: set[str] = set()
    for sentence in sentences(lines):
        tokens, other = named_slots(tokens_of(sentence, slots), slots)
        if other:
            return Read(other_time=other)
        for label, word in said_in(sentence, tokens):
            (by_label.setdefault(label, set()) if label else whole).add(word)
    by_label = by_label or {slot.label: whole for slot in slots}
    if any(len(words) != 1 or UNCLEAR in words for words in by_label.values()):
        return Read()
    return Read(tuple((label, next(iter(words))) for label, words in sorted(by_label.items())))


def sentences(lines: Sequence[str]) -> Iterator[str]:
    """The sentences of the lines, parted as well before each `but`; questions are left out."""
    for line in lines:
        for found in SENTENCE.finditer(line):
            if not found[0].rstrip().endswith(("?", "？")):
                yield from (part.strip(ENDS) for part in BUT.split(found[0]) if part.strip(ENDS))


def tokens_of(sentence: str, slots: Sequence[OpenSlot]) -> list[Token]:
    """Words, letters and times of a sentence, in order; a letter is one of an open slot."""
    labels = {slot.label for slot in slots}
    times = [Token("time", time_of(found), found.start()) for found in CLOCK.finditer(sentence)]
    # Blanks in place of the times, so that none of their signs is read as anything else.
    text = CLOCK.sub(lambda found: " " * len(found[0]), sentence)
    found = [Token("label", one[0], one.start()) for one in LABEL.finditer(text) if one[0] in labels]
    small = [one for one in SMALL_LABEL.finditer(text) if one[1].upper() in labels]
    found += [Token("label", one[1].upper(), one.start()) for one in small]
    return sorted([*times, *found, *words_of(text)], key=lambda token: token.at)


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
        elif before.value != token.value:
            pair = {before.value, token.value}
            unclear = UNCLEAR in pair or PARTING.search(sentence[before.at : token.at])
            found[-1] = Token("word", UNCLEAR if unclear else PERHAPS if PERHAPS in pair else NO, token.at)
    return found


def time_of(found: re.Match[str]) -> str:
    """A time of day as `08:00`."""
    hour = int(found["hour"])
    minute = found["minute"] or found["dotted"] or found["packed"] or "00"
    half = (found["half"] or "")[:1].lower()
    if half and hour <= 12:
        hour = hour % 12 + (12 if half == "p" else 0)
    return f"{hour % 24:02d}:{minute}"


def named_slots(tokens: Sequence[Token], slots: Sequence[OpenSlot]) -> tuple[list[Token], str]:
    """The tokens with each time as the letter of its slot; beside them a time that belongs to none."""
    found: list[Token] = []
    for token in tokens:
        if token.kind != "time":
            found.append(token)
            continue
        labels = [slot.label for slot in slots if token.value in slot.starts]
        known = {one.value for one in found if one.kind == "label"}
        if any(slot.label in known and token.value in slot.starts | slot.ends for slot in slots):
            continue
        if len(labels) != 1 or known:
            # A time beside a letter whose slot has another one, or a time of several slots, names nothing plainly.
            return [], token.value
        found.append(Token("label", labels[0], token.at))
    return found, ""


def said_in(sentence: str, tokens: Sequence[Token]) -> list[tuple[str, str]]:
    """Letter and word of each answer in a sentence; the letter is empty where the sentence names none."""
    tokens = merged(tokens, sentence)
    words = {token.value for token in tokens if token.kind == "word"}
    labels = [token.value for token in tokens if token.kind == "label"]
    if not words:
        return [(label, YES) for label in labels] if labels and is_bare(sentence) else []
    if len(words) > 1 and labels:
        return in_turn(tokens, sentence)
    return [(label, word) for label in labels or [""] for word in words]


def is_bare(sentence: str) -> bool:
    """Whether a sentence says nothing beside letters, times and words that add nothing."""
    plain = LABEL.sub(" ", CLOCK.sub(" ", sentence))
    words = re.findall(rf"[{LATIN}]+|[^\W\d_{LATIN}]+", plain)
    return all(word.lower() in FILLING for word in words)


def in_turn(tokens: Sequence[Token], sentence: str) -> list[tuple[str, str]]:
    """`A yes, B and C no` or `yes to A, no to B and C`: letters and words in turn, as the sentence begins.

    A word with a comma before all of that, as in `Yes, A is fine, B not`, says nothing of its own.
    """
    ordered = list(tokens)
    if ordered[0].kind == ordered[-1].kind == "word":
        if not PARTING.search(sentence[ordered[0].at : ordered[1].at]):
            return [(token.value, UNCLEAR) for token in ordered if token.kind == "label"]
        ordered = ordered[1:]
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
