"""What to look at next at a station that sends or hears other than its file says, and which reading would settle it.

Causes stand in the order in which they are usual (common practice, no source); the words are cautious, for decibels
from a log name no culprit.
"""

from __future__ import annotations

from pipeline.record.model import ECHO, GROUND, SUN
from pipeline.wording import formats

# A station of which both sides are worse by amounts this near has one cause for both, as likely as not.
ALIKE_DB = 1.5
BOTH = (
    "the aim (offsets of the dials, the leg that sank)",
    "the feed's focus and water or ice on it",
    "the turn of the polarization",
    "the gain that the file gives",
)
HEARS = (
    "a connector or relay ahead of the preamplifier, and water in it",
    "the preamplifier and its supply",
    "noise from the neighbourhood in that direction",
    "the noise figure that the file gives",
)
SENDS = (
    "the power at the feed, under load and when warm",
    "the cable and relay of the sending side",
    "the clock and frequency in the slots, for a decoder that looks elsewhere hears nothing",
    "the power that the file gives",
)
SETTLED_BY = {
    GROUND: "ground against cold sky: as the file says, and the aim is left; short, and it is the receiver",
    SUN: "the Sun's noise by the dial and at its highest: alike, and the aim is cleared",
    ECHO: "the own echo: as expected, and power and aim are cleared together",
}


def look_next(
    call: str, sends_db: float | None, hears_db: float | None, measured: frozenset[str], is_home: bool
) -> str:
    """Where to look first and what one more reading would settle; sides are None where they do not stand out.

    `measured` are the kinds of readings of that station that the record holds already.
    """
    alike = sends_db is not None and hears_db is not None and abs(sends_db - hears_db) <= ALIKE_DB
    worst = min((one for one in (sends_db, hears_db) if one is not None), default=0.0)
    if worst >= 0.0:
        return _better_words(call, sends_db, hears_db, measured, is_home)
    if alike:
        causes, wanted, what = BOTH, (SUN, GROUND, ECHO), "sends and hears worse alike, as with one cause for both"
    elif hears_db is not None and (sends_db is None or hears_db <= sends_db):
        causes, wanted, what = HEARS, (GROUND, SUN, ECHO), "hears worse than it sends"
    else:
        causes, wanted, what = SENDS, (ECHO, SUN, GROUND), "sends worse than it hears"
    left = [kind for kind in wanted if kind not in measured]
    settled = (
        f"One more reading would settle most: {SETTLED_BY[left[0]]}."
        if left
        else "Its own readings are in the record: check tells what they leave open."
    )
    ask = "" if is_home else f" Ask {call} kindly; a log cannot tell whose figure is wrong."
    return f"{call} {what}. It may be, most usual first: {formats.listed(list(causes), 'or')}. {settled}{ask}"


def _better_words(
    call: str, sends_db: float | None, hears_db: float | None, measured: frozenset[str], is_home: bool
) -> str:
    """Of a station whose file promises too little: what to mend in it, and what would settle that."""
    sides = [
        f"{verb} {value:.1f} dB" for verb, value in (("sends", sends_db), ("hears", hears_db)) if value is not None
    ]
    figures = [
        words
        for words, side in (("its power", sends_db), ("its gain", 0.0), ("its noise figure and losses", hears_db))
        if side is not None
    ]
    wanted = ((ECHO, "the own echo"),) if hears_db is None else ((SUN, "the Sun's noise"), (GROUND, "ground noise"))
    left = [words for kind, words in wanted if kind not in measured]
    settled = f" One more reading would settle most: {left[0]}." if left else ""
    ask = "" if is_home else f" Ask {call} kindly; a log cannot tell whose figure is wrong."
    return (
        f"{call} {formats.listed(sides)} better than its file says, which may be too cautious. See whether "
        f"{formats.listed(figures)} stand there as they are.{settled}{ask}"
    )
