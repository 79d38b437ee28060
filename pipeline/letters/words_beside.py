"""Words beside a calendar's answer: whether they may change what it says.

Calendars write words of their own there, in any language, so not all is understood to the last word as in a mail
without them (`reply_words`): what asks, makes a condition, goes on with a `but`, or names another answer, slot, day or
hour may change the answer; all else is shown and changes nothing. Words of services, idioms, conditions: from memory.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipeline.letters.reply_text import CUT
from pipeline.letters.reply_times import OpenSlot, named_in
from pipeline.letters.reply_vocabulary import NO, PERHAPS, PREFERRED, REGRET, YES
from pipeline.letters.reply_words import LABEL, is_conditional, joined, read_words, sentences, words_of

# An address is no word of a partner, nor is a clock's distance from UTC an hour.
ADDRESS = re.compile(r"<?\b\w+://\S+|\S+@\S+\.\S+")
OFFSET = re.compile(r"\(?\b(?:UTC|GMT)\s*[+\-\N{MINUS SIGN}\N{EN DASH}]\s*\d{1,2}(?::?\d\d)?\)?")
# `4:15 - 5:15pm`, and the same in Japanese: the half of the day stands once.
HALF_ONCE = re.compile(r"(\d{1,2}(?::\d\d)?)(\s*[-\N{EN DASH}]\s*\d{1,2}(?::\d\d)?\s*([ap]m)\b)", re.IGNORECASE)
AFTERNOON = re.compile(r"午後\s*(\d{1,2}):(\d\d)(?:\s*[～〜~\-\N{EN DASH}]\s*(\d{1,2}):(\d\d))?")
# Sentences with one of these are a service's or a company's, unless they speak as a partner does (`_is_service`).
SERVICE = re.compile(
    r"calend|kalender|invit|einladung|convite|convoca|notifi|benachrichtig|unsubscri|subscri|abonn|suscri|inscre"
    r"|forward|weiterleit|transfér|reenv|encaminh|inoltr|recipient|empfänger|destinat|confidential|vertraulich"
    r"|confiden|do not reply|nicht antworten|ne pas répondre|e-?mails?\b|\bcorreos?\b|courriel|daylight"
    r"|only if slot|カレンダー|招待|通知|転送|受信者|メール",
    re.IGNORECASE,
)
HEADER = re.compile(
    r"^\W*(?:sent|gesendet|envoyé|enviado|inviato|from|von|de|to|an|subject|betreff|objet|asunto)\s*:", re.IGNORECASE
)
MYSELF = re.compile(
    r"\b(?:I|[Mm][ey]|[Ww]e|[Ii]ch|mich|mir|[Ww]ir|[Jj]e|j['’]|moi|[Nn]ous|[Yy]o|mi|[Ee]u|[Ii]o)\b|私|僕"
)
# The three answers that a service offers, in one line.
ANSWERS = re.compile(
    r"(?:\b[^\W\d][\w ]{0,20}\?)?\s*\b(?:yes|ja|oui|sí|sim)\s*[-|/\N{EN DASH}]\s*[\wê-]+(?: \w+)?\s*[-|/\N{EN DASH}]\s*"
    r"(?:nein|non|não|no)\b",
    re.IGNORECASE,
)
# What says no or makes a condition by its words alone.
IDIOMS = re.compile(
    r"(?:can(?:no|['’])?t wait|why not|warum nicht|pourquoi pas|(?:would|will)n['’]t miss\w*|nicht entgehen"
    r"|ne manquerai pas|no me lo pierdo|non vedo l['’]ora|ci si sente|no (?:trees|change|problem)|in may\b|\bmay the\b"
    r"|if you (?:need|like|want)\b[^.!?]*|wenn (?:du|sie) (?:noch )?(?:was|etwas|fragen)\b[^.!?]*)",
    re.IGNORECASE,
)
# What moves the hour, takes it back or asks for another slot, without its letter or a clock's figures.
OTHERWISE = re.compile(
    r"\b(?:later|earlier|next day|später|früher|danach|plus tard|plus tôt|lendemain|más tarde|más temprano|siguiente"
    r"|mais tarde|mais cedo|seguinte|più tardi|dopo|prima)\b|のほう|遅|早|翌日"
    r"|\b(?:declined|cancell?ed|moved|abgelehnt|abgesagt|verschoben|annulée?|refusée?|déplacée?)\b|辞退"
    r"|\b(?:rechazad|cancelad|movid|recusad|rifiutat|annullat|spostat)[oa]\b"
    r"|(?:second|later|other|zweite\w*|deuxième|segund[ao]|second[ao]) (?:one|time|slot|termin|zeit|hora|hour)",
    re.IGNORECASE,
)
CONDITION = re.compile(
    r"permitting|in case of|\bonly (?:in|if|with|when)\b|\bassuming\b|\bnur (?:bei|wenn|falls)\b|\bs['’]il\b"
    r"|\bpourvu\b|\bcon tal\b|\b(?:solo|sólo|só) (?:con|se|si|com)\b|\ba meno\b|\bne\b[^.!?]*\bplus\b"
    r"|\bhave to work\b|\bdienst\b|たら|ければ|なら|仕事",
    re.IGNORECASE,
)
# A finger that slipped takes back whatever the calendar says; who says that they come takes back its no.
SLIPPED = re.compile(
    r"\bmistake|\bmis-?click|\bwrong (?:one|button|key|answer)|versehen|verklickt"
    r"|\bfalsche[nr]? (?:knopf|taste|antwort)|\berreur|\bmauvais bouton|\berror\b|\bequivo"
    r"|\berrore|\bsbagliat|\bengano|\berrad[oa]\b|間違",
    re.IGNORECASE,
)
COMING = re.compile(
    r"(?:\b(?:I|we)(?: will|['’]ll| am|['’]m|['’]re| are)(?: be)? (?:come?(?!\w| back)|coming|there)"
    r"|\b(?:ich komme|wir kommen|ich bin dabei|wir sind dabei|je viens|j['’]y serai|je serai là|vengo|estaré|venho"
    r"|estarei|verrò|ci sarò)\b|行きます|出ます|参加します)(?![^.!?]*\b(?:not|nicht|pas|fuera|fora|fuori)\b)",
    re.IGNORECASE,
)


def may_change(lines: Sequence[str], label: str, word: str, slots: Sequence[OpenSlot]) -> bool:
    """Whether lines beside the answer `word` to the slot `label`, one of `slots`, may say something else."""
    if any(CUT in line for line in lines):
        return True
    own = [one for one in map(_plain, joined(list(lines))) if one]
    others, mine = {slot.label for slot in slots} - {label}, [slot for slot in slots if slot.label == label]
    edges = [edge for slot in mine for edge in (slot.begins, slot.ends)]
    text = " ".join(own)
    if any(not any(named.is_edge(edge) for edge in edges) for line in own for named in named_in(line)[0]):
        return True
    if "?" in text or {one[0] for one in LABEL.finditer(text)} & others:
        return True
    if read_words(own, mine).words not in ((), ((label, word),)):
        return True
    return any(_changes(sentence.text, sentence.follows, word) for sentence in sentences(own))


def _plain(line: str) -> str:
    """A line without what a service writes, addresses and idioms, its hours by the whole day."""
    line = ANSWERS.sub(" ", OFFSET.sub(" ", ADDRESS.sub(" ", line)))
    line = HALF_ONCE.sub(lambda found: f"{found[1]} {found[3]}{found[2]}", line)
    line = AFTERNOON.sub(lambda found: " ".join(_later(found)), line)
    kept = [part for part in re.split(r"(?<=[.!?。！？])\s+", line) if not _is_service(part)]
    return IDIOMS.sub(" ", " ".join(kept)).strip()


def _is_service(text: str) -> bool:
    """Whether a service wrote this sentence: it names no hour of its own, and nobody says I."""
    if HEADER.search(text):
        return True
    own = MYSELF.search(text) or OTHERWISE.search(text) or PREFERRED.search(text.lower()) or named_in(text)[0]
    return bool(SERVICE.search(text)) and not own


def _later(found: re.Match[str]) -> list[str]:
    """Hours after noon by the whole day."""
    pairs = [(found[1], found[2])] + ([(found[3], found[4])] if found[3] else [])
    return [f"{int(hour) % 12 + 12:02d}:{minute}" for hour, minute in pairs]


def _changes(text: str, follows: bool, word: str) -> bool:
    """Whether a sentence by itself may change an answer: a perhaps hangs on something, and a no on nothing."""
    if SLIPPED.search(text):
        return True
    said = {token.value for token in words_of(text)}
    if word == YES:
        doubt = (
            is_conditional(text) or CONDITION.search(text) or OTHERWISE.search(text) or PREFERRED.search(text.lower())
        )
        return bool(follows or doubt or REGRET.search(text.lower()) or said & {NO, PERHAPS})
    return bool(word == NO and ((follows and YES in said) or COMING.search(text)))
