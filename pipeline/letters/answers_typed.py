"""Answers as they are typed or pasted, to the form `A=yes`: `A yes`, `A: ja, B no`, `sky free`, `yes A`.

Words of yes, no and perhaps are those of `reply_words`; a word that is none of them stays as it is, to be told.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipeline.letters.reply_words import PATTERNS
from pipeline.record.model import ABSENT, FAILED, MADE, RAINED

OUTCOMES_CALLED = {
    MADE: "worked done qso complete completed success successful both-ways ok-made logged",
    FAILED: "fail nil missed lost incomplete unsuccessful nothing",
    ABSENT: "noshow no-show away missing not-there",
    RAINED: "rain weather cancelled canceled storm wind",
}
# A letter with a sign; or what is told of a station, whose value stays as it is.
SIGNED = re.compile(r"(?i)([a-z]{1,2}(?=[=:])|sky(?=[=:])|[a-z][a-z_]{2,}(?==))[=:]")
LONE = re.compile(r"[A-Z]{1,2}|[a-z]|(?i:sky|hours)")
LONGEST_LABEL = 2


def typed_answers(words: Sequence[str]) -> list[str]:
    """One text of the form `A=yes` for each letter that the words name, in their order."""
    text = re.sub(r"\s*=\s*", "=", " ".join(words).strip())
    pairs: list[tuple[str, list[str]]] = []
    before: list[str] = []
    for word in re.sub(r"[,;](?=\s|$)", " ", text).split():
        signed = SIGNED.match(word)
        if signed:
            pairs.append((signed[1], [word[signed.end() :]] if word[signed.end() :] else []))
        elif LONE.fullmatch(word) and _word(word) == word:
            pairs.append((word, []))
        else:
            (pairs[-1][1] if pairs else before).append(word)
    if not pairs:
        return [text] if text else []
    if before and not pairs[0][1]:
        pairs[0] = (pairs[0][0], before)
    return [
        f"{label}={_said(' '.join(said))}"
        if len(label) <= LONGEST_LABEL
        else f"{label.casefold()}={' '.join(said).strip(' .!')}"
        for label, said in pairs
    ]


def _said(text: str) -> str:
    """What is said of one letter, its time kept behind the @."""
    word, at, time = text.partition("@")
    return _word(word.strip(" .!")) + at + time.strip()


def _word(text: str) -> str:
    """yes, no or perhaps, or how it went; the text itself where it is none of them."""
    plain = text.casefold()
    for word, pattern in PATTERNS:
        if pattern.fullmatch(plain):
            return word
    if plain in ("y", "n"):
        return "yes" if plain == "y" else "no"
    joined = plain.replace(" ", "-")
    return next((word for word, called in OUTCOMES_CALLED.items() if joined in called.split()), text)
