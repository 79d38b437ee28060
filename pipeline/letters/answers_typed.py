"""Answers as they are typed or pasted, to the form `A=yes`: `A yes`, `A: ja, B no`, `sky free`, `yes A`.

Words of yes, no and perhaps are those of `reply_words` and of more languages (from memory); courtesies beside them add
nothing. A word that is none of them stays as it is, to be told.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipeline.letters.reply_vocabulary import FILLING, NO, PATTERNS, PERHAPS, YES
from pipeline.record.model import ABSENT, FAILED, MADE, RAINED

OUTCOMES_CALLED = {
    MADE: "worked done qso complete completed success successful both-ways ok-made logged",
    FAILED: "fail nil missed lost incomplete unsuccessful nothing",
    ABSENT: "noshow no-show away missing not-there",
    RAINED: "rain weather cancelled canceled storm wind",
}
MORE_WORDS = {
    YES: "y yeah sure fine good roger jo jep jepp jup klar klappt joo kyllä tak ano áno da hai igen evet jah jā "
    "taip sip si sí ouais bien parfait perfetto perfecto certo claro certamente bene ναι да так okej oki right correct "
    "👍 ✓ ✔ true 好 是 可以 네 예 qsl",
    NO: "n nej nei nee ei nie ne nem hayır jok όχι нет ні nope nö nay näh nix sorry 👎 ✗ false "
    "不 不行 아니요 nu nē negative",
    PERHAPS: "kanske måske kanskje misschien ehkä może możliwe možná možno talán poate belki ίσως может возможно "
    "mogelijk tentative unsure ? 也许 아마",
}
COURTESIES = """
gern gerne gladly super prima toll thx tnx tks many very much great good morning evening om dr vy 73 88 es hi hello
hallo hej moi ciao salut con gusto avec plaisir com prazer volentieri piacere mit vergnügen natürlich of course sûr
mille kiitos tack takk dziękuję díky köszönöm dank u wel bedankt cu see you then bis dann à bientôt lieber leider
unfortunately hélas lamentablemente purtroppo infelizmente jammer for me us with pleasure i can we
"""
COURTESY = FILLING | frozenset(COURTESIES.split())
# A letter with a sign; or what is told of a station, whose value stays as it is.
SIGNED = re.compile(r"(?i)([a-z]{1,2}(?=[=:])|sky(?=[=:])|[a-z][a-z_]{2,}(?==))[=:]")
LONE = re.compile(r"[A-Z]{1,2}|[a-z]|(?i:sky|hours)")
LONGEST_LABEL = 2
# A value as it stands in a station file.
LISTED = re.compile(r"(?i)([a-z][a-z_]{2,})\s*=\s*([\[{].*[\]}])")


def typed_answers(words: Sequence[str]) -> list[str]:
    """One text of the form `A=yes` for each letter that the words name, in their order."""
    if listed := LISTED.fullmatch(" ".join(words).strip()):
        return [f"{listed[1].casefold()}={listed[2]}"]
    text = re.sub(r"\s*=\s*|\s+:\s+|:\s+", lambda found: "=" if "=" in found[0] else ":", " ".join(words).strip())
    text = re.sub(r"(?i)\b(?:slot|time|termin|zeit|créneau|horario)\s+(?=[a-z]{1,2}\b)", "", text)
    pairs: list[tuple[str, list[str]]] = []
    before: list[str] = []
    for piece in text.split():
        word = piece.rstrip(",;")
        signed = SIGNED.match(word)
        if signed:
            # What is told of a station, hours above all, may be a list whose signs count.
            said = (word if len(signed[1]) <= LONGEST_LABEL else piece)[signed.end() :]
            pairs.append((signed[1], [said] if said else []))
        elif LONE.fullmatch(word) and _word(word) == word:
            pairs.append((word, []))
        elif pairs and len(pairs[-1][0]) > LONGEST_LABEL:
            pairs[-1][1].append(piece)
        elif word:
            (pairs[-1][1] if pairs else before).append(word)
    if not pairs:
        return [_said(text)] if text else []
    if before and not pairs[0][1]:
        pairs[0] = (pairs[0][0], before)
    return [
        f"{label}={_said(' '.join(said))}"
        if len(label) <= LONGEST_LABEL
        else f"{label.casefold()}={' '.join(said).strip(' .!,;')}"
        for label, said in pairs
    ]


def bare_word(answers: Sequence[str]) -> str:
    """The yes, no or perhaps of answers that name no slot; empty for all others."""
    return answers[0] if len(answers) == 1 and answers[0] in (YES, NO, PERHAPS, *OUTCOMES_CALLED) else ""


def _said(text: str) -> str:
    """What is said of one letter, its time kept behind the @."""
    word, at, time = text.partition("@")
    return _word(word.strip(" .!,;")) + at + time.strip()


def _word(text: str) -> str:
    """yes, no or perhaps, or how it went; the text itself where it is none of them, or says two of them."""
    if (whole := _known(text)) is not None:
        return whole
    said = {known for one in text.split() if (known := _known(one.strip(" .!,;:()"))) is not None}
    others = [one for one in re.split(r"[\s.!,;:()]+", text.casefold()) if one and _known(one) is None]
    return said.pop() if len(said) == 1 and all(one in COURTESY for one in others) else text


def _known(text: str) -> str | None:
    """What a word or a phrase alone says; None where it is none of those known."""
    plain = text.casefold()
    for word, pattern in PATTERNS:
        if pattern.fullmatch(plain):
            return word
    for word, known in MORE_WORDS.items():
        if plain in known.split():
            return word
    joined = plain.replace(" ", "-")
    return next((word for word, called in OUTCOMES_CALLED.items() if joined in called.split()), None)
