"""What a partner's lines tell of its station: the sky, hours and figures that letters ask for, as `answer` takes them.

The forms are those that a letter's question asks for, in each of its languages, and plain sentences of these. Only
what the partner's file leaves open; all of it is shown to the operator and nothing is written.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipeline.inputs.model import Station
from pipeline.letters.arcs_said import arcs_in
from pipeline.letters.reply_times import named_in
from pipeline.letters.sky_answer import KEY as SKY_KEY
from pipeline.letters.station_answer import HOURS, PLACES, is_open
from pipeline.pairs.assumed import skyline_is_assumed
from pipeline.record.model import AskedSky

STRETCH = re.compile(
    r"(?<![\d:.,])(?P<from_hour>[01]?\d|2[0-4])(?:[:h.時](?P<from_minute>[0-5]\d)分?)?\s*(?P<from_unit>h\b|uhr|時"
    r"|[ap]m\b)?\s*"
    r"(?:to|till|until|bis|à|a las|a|hasta las|hasta|alle|às|as|até|から|-|–|~)\s*"
    r"(?P<hour>[01]?\d|2[0-4])(?:[:h.時](?P<minute>[0-5]\d)分?)?\s*"
    r"(?P<unit>h\b|uhr\b|時|[ap]m\b|heures\b|horas\b|ore\b)?(?![\d:])",
    re.IGNORECASE,
)
# Stands where hours stood: a word that no sentence of an answer knows.
TOLD_HOURS = " (hours) "
FIGURE = re.compile(r"(\d+(?:[.,]\d+)?)\s*(w|watts?|m|db|dbi)?\.?", re.IGNORECASE)
UNITS = {"w": "power_w", "watt": "power_w", "watts": "power_w", "m": "dish_diameter_m", "dbi": "gain_dbi"}
DECIBELS = ("noise_figure_db", "loss_before_preamplifier_db")
NUMBER = r"(\d{1,4}(?:[.,]\d+)?)"
# What a number with its unit is, by a word beside it; words of the languages of letters, from memory.
WITH_UNIT = {
    "power_w": (NUMBER + r"\s*(?:w|watts?|ワット)(?![a-zà-ÿ])", ""),
    "gain_dbi": (NUMBER + r"\s*dbi(?![a-z])", ""),
    "dish_diameter_m": (
        NUMBER + r"\s*(?:m|meter|metres?|mètres?|metros?|metri|メートル)(?![a-zà-ÿ])",
        r"dish|antenn|spiegel|schüssel|parabol|réflecteur|antena|disco|plato|アンテナ|パラボラ",
    ),
    "noise_figure_db": (
        NUMBER + r"\s*db(?![a-z])",
        r"noise figure|\bnf\b|rauschzahl|rauschmaß|facteur de bruit|(?:figura|factor|cifra) de ruido"
        r"|(?:figura|cifra) di rumore|(?:figura|fator) de ruído|雑音指数",
    ),
    "loss_before_preamplifier_db": (
        NUMBER + r"\s*db(?![a-z])",
        r"\bloss\b|dämpfung|verlust|pertes?\b|pérdidas?|perdit[ae]|perdas?\b|損失",
    ),
}
CLAUSE = re.compile(r"(?:[^.!?;,。、？！]|[.,](?=\d))+[.!?;,。、？！]?")
UNSURE = re.compile(
    r"[?？]|\b(?:not?|never|without|if|perhaps|maybe|could|would|want|plan|soon|later|before|was|had|will|than"
    r"|nicht|kein\w*|ohne"
    r"|wenn|vielleicht|könnte|würde|bald|früher|war|hatte|werde\w*|als|pas|sans|si|peut-être|bientôt|était|avais"
    r"|aurai|sin|quizás?|tal vez|pronto"
    r"|era|tenía|tendré|avevo|avrò|tinha|terei|non|senza|se|forse|presto|não|sem|talvez|em breve)\b"
    r"|ない|もし|たぶん|予定",
    re.IGNORECASE,
)
SKY_WORDS = r"\bsky\b|\bhorizon|himmel|\bhorizont|\bciel\b|\bcielo\b|\bcéu\b|orizzonte|空"
FREE = re.compile(
    r"\b(?:free|clear|open|frei|libre|dégagé|despejado|liber[oa]|livre|desimpedido)\b|開けて|開いて", re.IGNORECASE
)
SKY = re.compile(SKY_WORDS, re.IGNORECASE)
BLOCKED = re.compile(
    SKY_WORDS
    + r"|\btrees?\b|forest|\bhills?\b|\bhouses?\b|building|bäume?\b|wald\b|hügel|haus\b|häuser|arbres?\b|colline"
    r"|maisons?\b|árbol|colina|\bcasas?\b|alber[oi]\b|\bcas[ae]\b|árvores?|木|山|家",
    re.IGNORECASE,
)
HEIGHT = re.compile(
    NUMBER + r"\s*(?:°|º|deg\w*|grad\w*|degrés?|graus?|度)(?![a-zà-ÿ])|\bsky\s*[:=]?\s*" + NUMBER, re.IGNORECASE
)
# Hours of some days only, which no line to type may turn into those of every day (words from memory).
SOME_DAYS = re.compile(
    r"\bweek-?(?:days?|ends?|nights?)\b|\b(?:work(?:ing)?|business) ?days?\b|\bduring the week\b|\bmidweek\b"
    r"|\b(?:mon|tues|wednes|thurs|fri|satur|sun)days?\b|\b(?:except|apart from|but not|not on|never|only on)\b"
    r"|\bwochen(?:end|tag)|\bwerktag|\bau(?:ß|ss)er\b|\bunter der woche\b|\bwoche über\b"
    r"|\b(?:jours? (?:ouvr|de semaine)|en semaine|week-end|sauf)|\bentre semana|\bexcepto\b"
    r"|\blaborables?\b|\bfi(?:m|n|ns|nes) de semana|\bdias? (?:úteis|útil)|\bexceto\b|\bmenos (?:à|a|el|los|na|no)\b"
    r"|\bfine settimana|\bferial|\btranne\b|平日|週末|土日|以外",
    re.IGNORECASE,
)


def without_hours(lines: Sequence[str], slot_hours: Sequence[str]) -> tuple[str, ...]:
    """The lines without stretches of hours that are no slot's: a time in them asks for no slot."""
    return tuple(
        STRETCH.sub(
            lambda found: TOLD_HOURS if (span := _span(found)) and span not in slot_hours else found[0],
            line,
        )
        for line in lines
    )


def facts_in(
    lines: Sequence[str], station: Station, band: str, slot_hours: Sequence[str], asked_sky: AskedSky | None
) -> tuple[str, ...]:
    """`sky=free`, `hours=18:00-23:30`, `power_w=40`: what may be meant; `slot_hours` are stretches that are slots.

    Of its sky only where it was asked about, or where a direction is named: else nobody knows over which azimuths.
    """
    found: list[str] = []
    for line in lines:
        clauses = [one[0].strip() for one in CLAUSE.finditer(line) if not UNSURE.search(one[0])]
        if skyline_is_assumed(station):
            found += [sky for one in clauses if (sky := _sky(one, asked_sky is not None))]
        if is_open(station, band, HOURS) and not SOME_DAYS.search(line):
            spans = [span for one in clauses for span in _hours(one)]
            found += [f"{HOURS}={span}" for span in spans if span not in slot_hours]
        if figure := FIGURE.fullmatch(line):
            keys = [key for key in _keys(figure[2]) if is_open(station, band, key)]
            found += [f"{key}={figure[1].replace(',', '.')}" for key in keys]
        else:
            told = [fact for one in clauses for fact in _figures(one)]
            found += [f"{key}={value}" for key, value in told if is_open(station, band, key)]
    return tuple(dict.fromkeys(found))


def _sky(clause: str, is_asked: bool) -> str:
    """`sky=free`, `sky=9@225-315`: what a clause says of the sky; empty where that is not plain."""
    heights = [one[1] or one[2] for one in HEIGHT.finditer(clause)]
    arcs = arcs_in(clause)
    if len(heights) > 1 or len(arcs) > 1 or not (arcs or is_asked):
        return ""
    arc = f"@{arcs[0]}" if arcs else ""
    if heights and BLOCKED.search(clause):
        return f"{SKY_KEY}={heights[0].replace(',', '.')}{arc}"
    return f"{SKY_KEY}=free{arc}" if SKY.search(clause) and FREE.search(clause) and not heights else ""


def _hours(clause: str) -> list[str]:
    """The hours of every day that a clause tells; none where it names a day or UTC."""
    named = named_in(STRETCH.sub(" ", clause))[0]
    if named or re.search(r"\b(?:utc|gmt)\b|\d\s*z\b", clause, re.IGNORECASE):
        return []
    return [span for one in STRETCH.finditer(clause) if (span := _span(one))]


def _figures(clause: str) -> list[tuple[str, str]]:
    """Keys and values that a clause gives with their units and words."""
    found = []
    for key, (number, word) in WITH_UNIT.items():
        values = re.findall(number, clause, re.IGNORECASE)
        if len(values) == 1 and (not word or re.search(word, clause, re.IGNORECASE)):
            found.append((key, values[0].replace(",", ".")))
    return found


def _span(found: re.Match[str]) -> str:
    """`18:00-23:30`; empty where neither minutes nor a word say that hours are meant."""
    if not ((found["from_minute"] and found["minute"]) or found["unit"]):
        return ""
    until = found["unit"] or ""
    since = found["from_unit"] or (until if until.lower() in ("am", "pm") else "")
    first = _hour(found["from_hour"], since), found["from_minute"] or "00"
    last = _hour(found["hour"], until), found["minute"] or "00"
    return f"{first[0]:02d}:{first[1]}-{last[0]:02d}:{last[1]}"


def _hour(digits: str, unit: str) -> int:
    half = unit.lower() if int(digits) <= 12 else ""
    return int(digits) % 12 + (12 if half == "pm" else 0) if half in ("am", "pm") else int(digits)


def _keys(unit: str | None) -> Sequence[str]:
    """The keys that a figure with this unit may be of."""
    figures = [key for key, place in PLACES.items() if place[0] == "bands"]
    if unit is None:
        return figures
    return DECIBELS if unit.lower() == "db" else [UNITS[unit.lower()]]
