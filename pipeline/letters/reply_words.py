"""An answer in words: what a partner's own lines say of its slots, as far as that is plain; else nothing at all.

Words of English, German, French, Spanish, Portuguese, Italian and Japanese, from memory and unread by their speakers:
what comes out is only ever offered to the operator, beside the words themselves.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from pipeline.letters.reply_times import LATIN, Named, OpenSlot, named_in, undotted

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
# Beside one letter alone they are a yes to it: it was asked whether it is better than another.
BETTER_WORDS = """
is s would be better best rather ist wäre besser lieber est serait mieux plutôt es sería mejor seria melhor è sarebbe
meglio preferisco prefiro のほうがいいです のほうが
"""
BETTER = frozenset(BETTER_WORDS.split())
# One thing is held against another: which of them is meant is for people to read.
COMPARED = re.compile(
    r"\b(?:than|instead of|except|statt|anstatt|anstelle|außer|au lieu|en vez|en lugar|em vez|al posto)\b|より|代わり"
)
# So is one of two letters in a sentence with one of these.
PREFERRED = re.compile(
    r"\b(?:better|rather|prefer\w*|besser|lieber|bevorzuge|mieux|plutôt|préfère|mejor|melhor|meglio|prefiero|prefiro"
    r"|preferisco)\b|ほうが"
)
# One of several, and no letter says which.
CHOSEN = re.compile(
    r"\b(?:first|1st|second|2nd|third|3rd|last|latter|former|other|another|later|earlier|either|whichever|any of|one of"
    r"|(?:erst|zweit|dritt|letzt|ander|später|früher)e[rsnm]?|später|früher|premi(?:er|ère)|deuxième|seconde?|troisième"
    r"|derni(?:er|ère)|autre|plus (?:tard|tôt)|primer[oa]?|segund[oa]|tercer[oa]?|últim[oa]|otr[oa]|más tarde"
    r"|más temprano|primeir[oa]|terceir[oa]|outr[oa]|mais (?:tarde|cedo)|prim[oa]|second[oa]|terz[oa]|ultim[oa]"
    r"|altr[oa]|più tardi)\b|最初|つ目|後の|前の|別の|どちら|片方|もう一つ|ほかの|他の"
)
BUT = re.compile(r"\b(?:but|aber|sondern|mais|pero|sino|mas|ma|however)\b|しかし|ですが", re.IGNORECASE)
# Between a word and its denial nothing of this stands.
PARTING = re.compile(r"[,:、–—]")
# A full stop within a time parts nothing.
ENDS = " .!;。！；"
SENTENCE = re.compile(r"((?<![\d.])\d{1,2}\.\d{1,2}\.(?!\d)|[^.!?;。！？\n]|\.(?=\d))+[.!?;。！？]?")
LABEL = re.compile(rf"(?<![\d{LATIN}])[A-Z]{{1,2}}(?![\d{LATIN}])")
# A small letter means a slot where a sign says so.
SMALL_LABEL = re.compile(rf"(?<![\d{LATIN}])([a-z])(?=\s*[=:])")
# Capitals that stand alone for other things than a slot: words of some language, and the zone of UTC.
NO_LABELS = frozenset("AEIOYZ")


@dataclass(frozen=True)
class Token:
    """One thing that a sentence says: `kind` is `word`, `label` or `time`; `named` is what a time names."""

    kind: str
    value: str
    at: int
    named: Named | None = None


@dataclass(frozen=True)
class Read:
    """What the lines say: a word by letter; `other_time` is a time named that no open slot has."""

    words: tuple[tuple[str, str], ...] = ()
    other_time: str = ""


def read_words(lines: Sequence[str], slots: Sequence[OpenSlot]) -> Read:
    """What lines, cleaned as `reply_text` does it, say of the slots; no words where it is not plain."""
    by_label: dict[str, set[str]] = {}
    whole: set[str] = set()
    for sentence in sentences(lines):
        tokens, text = tokens_of(sentence, slots)
        tokens, other = named_slots(tokens, text, slots)
        if other:
            return Read(other_time=other)
        for label, word in said_in(sentence, text, tokens, slots):
            (by_label.setdefault(label, set()) if label else whole).add(word)
    by_label = by_label or said_of_all(whole, slots)
    if any(len(words) != 1 or UNCLEAR in words for words in by_label.values()):
        return Read()
    return Read(tuple((label, next(iter(words))) for label, words in sorted(by_label.items())))


def said_of_all(words: set[str], slots: Sequence[OpenSlot]) -> dict[str, set[str]]:
    """Words that name no letter: a yes is plain where no slot has several times, a no is one to all of them."""
    has_choice = any(slot.instead_of for slot in slots)
    if words == {YES} and has_choice:
        return {slot.label: {UNCLEAR} for slot in slots}
    return {slot.label: words for slot in slots if words == {NO} or not slot.instead_of}


def sentences(lines: Sequence[str]) -> Iterator[str]:
    """The sentences of the lines, parted as well before each `but`; questions are left out."""
    for line in lines:
        for found in SENTENCE.finditer(undotted(line)):
            if not found[0].rstrip().endswith(("?", "？")):
                yield from (part.strip(ENDS) for part in BUT.split(found[0]) if part.strip(ENDS))


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
        elif before.value != token.value:
            pair = {before.value, token.value}
            unclear = UNCLEAR in pair or PARTING.search(sentence[before.at : token.at])
            found[-1] = Token("word", UNCLEAR if unclear else PERHAPS if PERHAPS in pair else NO, token.at)
    return found


def named_slots(tokens: Sequence[Token], text: str, slots: Sequence[OpenSlot]) -> tuple[list[Token], str]:
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
            return [], token.value
        found.append(Token("label", labels[0], token.at))
    return found, ""


def said_in(sentence: str, text: str, tokens: Sequence[Token], slots: Sequence[OpenSlot]) -> list[tuple[str, str]]:
    """Letter and word of each answer in a sentence; the letter is empty where the sentence names none."""
    tokens = merged(tokens, sentence)
    words = {token.value for token in tokens if token.kind == "word"}
    labels = [token.value for token in tokens if token.kind == "label"]
    if words and is_doubtful(text, labels, {slot.label for slot in slots}):
        return [(label, UNCLEAR) for label in labels or [""]]
    if not words:
        return [(label, YES) for label in labels] if labels and is_bare(text, set(labels)) else []
    if labels and (len(words) > 1 or tokens[0].kind == tokens[-1].kind == "label"):
        return in_turn(tokens, sentence)
    return [(label, word) for label in labels or [""] for word in words]


def is_doubtful(text: str, labels: Sequence[str], known: set[str]) -> bool:
    """Whether a sentence holds one slot against another, picks one without its letter, or names a letter of no slot."""
    strange = {one[0] for one in LABEL.finditer(text) if len(one[0]) == 1} - known - NO_LABELS
    lowered = text.lower()
    compared = COMPARED.search(lowered) or (len(set(labels)) > 1 and PREFERRED.search(lowered))
    return bool(strange or (labels and compared) or (not labels and CHOSEN.search(lowered)))


def is_bare(text: str, labels: set[str]) -> bool:
    """Whether a sentence without its times says nothing beside letters and words that add nothing."""
    adding = re.findall(rf"[{LATIN}]+|[^\W\d_{LATIN}]+", LABEL.sub(" ", text))
    return all(word.lower() in FILLING or (len(labels) == 1 and word.lower() in BETTER) for word in adding)


def is_all_known(text: str) -> bool:
    """Whether a text holds a word of an answer, and beside it nothing but letters, times and words that add nothing."""
    lowered = LABEL.sub(" ", SMALL_LABEL.sub(" ", BUT.sub(" ", named_in(text)[1]))).lower()
    rest = lowered
    for _, pattern in PATTERNS:
        rest = pattern.sub(" ", rest)
    return rest != lowered and all(word in FILLING | BETTER for word in re.findall(r"[^\W\d_]+", rest))


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
