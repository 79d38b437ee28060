"""Words beside a calendar's answer: whether they may change what it says.

Calendars write words of their own there, in any language, so not all is understood to the last word as in a mail
without them (`reply_words`): what asks, makes a condition, goes on with a `but`, or names another answer, slot, day or
hour may change the answer; all else is shown and changes nothing.
"""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.letters.reply_times import OpenSlot, named_in
from pipeline.letters.reply_vocabulary import NO, PERHAPS, YES
from pipeline.letters.reply_words import is_conditional, read_words, sentences, words_of

# Lines that lead elsewhere are no words of a partner.
LINK = "://"
ANSWERS = frozenset({YES, NO, PERHAPS})


def may_change(lines: Sequence[str], label: str, word: str, slots: Sequence[OpenSlot]) -> bool:
    """Whether lines beside the answer `word` to the slot `label`, one of `slots`, may say something else."""
    lines = [line for line in lines if LINK not in line]
    read = read_words(lines, slots)
    if read.other_time or read.proposed or read.named - {label} or dict(read.words).get(label, word) != word:
        return True
    edges = [edge for slot in slots if slot.label == label for edge in (slot.begins, slot.ends)]
    return any(
        sentence.is_question
        # A perhaps hangs on something by itself.
        or (word != PERHAPS and (sentence.follows or is_conditional(sentence.text)))
        or bool({token.value for token in words_of(sentence.text)} & (ANSWERS - {word}))
        or any(not any(named.is_edge(edge) for edge in edges) for named in named_in(sentence.text)[0])
        for sentence in sentences(lines)
    )
