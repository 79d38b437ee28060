"""Times of day and stretches of hours in the habits of several countries, to the forms that a file takes."""

from __future__ import annotations

import re

from pipeline.inputs.days_said import TO
from pipeline.inputs.odd_characters import plain


def clock_meant(text: str) -> str | None:
    """`6 pm`, `18h30`, `18 Uhr`, `1800`, `midnight` as 18:00 and so on; None where the text is no time of day."""
    said = plain(text).casefold().strip(" .")
    said = re.sub(r"^(?:at|um|kl\.?|klo|a las|alle|às|vers|ca\.?|about|~)\s+", "", said)
    if said in ("midnight", "mitternacht", "minuit", "medianoche", "mezzanotte", "meia-noite"):
        return "24:00"
    if said in ("noon", "mittag", "midi", "mediodía", "mezzogiorno", "midday", "meio-dia"):
        return "12:00"
    ending = r"(?:\s*(?:uhr|uur|u|hrs?|hours|h|o'?clock|local|lt|loc\.?|klo|kl\.?|godz\.?|時|点))*"
    half = re.fullmatch(rf"(\d{{1,2}})\s*(?:[.:hu時点,]\s*(\d\d)\s*分?)?\s*(am|pm|a\.m|p\.m|a|p)?\.?{ending}", said)
    four = re.fullmatch(rf"(\d\d)(\d\d)\s*(am|pm)?{ending}", said)
    seconds = re.fullmatch(r"(\d{1,2}):(\d\d):\d\d\s*(am|pm)?", said)
    found = half or four or seconds
    if not found:
        return None
    hour, minute, side = int(found[1]), int(found[2] or 0), (found[3] or "").replace(".", "")[:1]
    if side and not 1 <= hour <= 12:
        side = ""
    hour = hour % 12 + (12 if side == "p" else 0) if side else hour
    return f"{hour:02d}:{minute:02d}" if (hour < 24 and minute < 60) or (hour, minute) == (24, 0) else None


def hours_meant(text: str) -> tuple[str, str] | None:
    """The two ends of `18:00-23:30` or `6 to 11 pm`; None where the text has no two times."""
    said = plain(text)
    said = re.sub(r"^(?:from|von|de|desde|dalle|das)\s+", "", said, flags=re.IGNORECASE)
    for gap in (TO, r"\s*-\s*"):
        parts = re.split(gap, said)
        if len(parts) == 2:
            side = re.search(r"(am|pm)\s*$", parts[1], re.IGNORECASE)
            first = parts[0] if not side or re.search(r"[ap]\.?m", parts[0], re.IGNORECASE) else f"{parts[0]} {side[1]}"
            start, end = clock_meant(first), clock_meant(parts[1])
            if start and end:
                return ("00:00" if start == "24:00" else start), end
    return None


def clock_advice(text: str) -> str | None:
    """What to write for a time of day; None where the text is none."""
    both = hours_meant(text)
    if both:
        return f"that is two times; write from: {both[0]}, to: {both[1]}."
    universal = re.fullmatch(r"(.*\d)\s*(?:utc|gmt|z|zulu)", plain(text).casefold())
    if universal:
        return "local time is meant, not UTC; write the hour that the station's own clock shows then."
    time = clock_meant(text)
    return f"write {time}." if time else None


# Words for rise and set; the longer ones of a language hold the Moon's or the Sun's name.
MOON = re.compile(r"moon|mond|lun[aey]|lua|maan|måne|mjesec|księżyc|měsíc|hold|kuu|月", re.IGNORECASE)
SUN = re.compile(
    r"sun(?:set|rise)|dusk|dawn|dark|sonne|dämmer|soleil|crépusc|tramonto|alba\b|ocaso|puesta|amanecer|anochecer|atardecer"
    r"|pôr|nascer|zonso|solned|solopp|západ|zachód|wschód|svít|soumrak|zmierzch|świt|日没|日の出",
    re.IGNORECASE,
)


def by_the_sky(text: str) -> str | None:
    """What to write for a time of moonrise or sunset; None where the text names neither."""
    if MOON.search(text):
        return "the Moon's hours are worked out by the plan; hours of your clock are meant, 00:00 to 24:00 for any."
    if SUN.search(text):
        return "the Sun is looked after by the plan; here hours of your clock are meant, such as 18:00 or 23:30."
    return None
