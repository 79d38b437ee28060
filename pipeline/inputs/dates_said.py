"""Dates and months in the habits of several countries, to the forms that a file takes.

Names of months are those of Unicode CLDR (`data/calendar_words.json`). What can mean two things gives both readings.
"""

from __future__ import annotations

import calendar
import datetime as dt
import re
from collections.abc import Iterable

from pipeline.inputs.days_said import TO, WORDED, days_meant, folded, in_brackets, words
from pipeline.inputs.odd_characters import plain

LEAP_YEAR = 2028
NO_YEAR = "the year is missing; a date is written as 2027-03-20, the year first."
# The day of a month that words for a part of it stand for; 31 is its last.
PARTS_OF_A_MONTH = {
    **dict.fromkeys(("end", "ende", "fin", "fine", "final", "fim", "slutet", "koniec", "konec", "lopussa", "eind"), 31),
    **dict.fromkeys(("mid", "middle", "mitte", "meados", "mediados", "milieu", "medio"), 15),
}
ISO = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)


def month_of(word: str) -> int | None:
    """1 to 12 for a month's name; None where languages differ or none knows it."""
    meanings = words("months").get(folded(word), {})
    english = [number for number, names in meanings.items() if "English" in names]
    numbers = english or list(meanings)
    if len(numbers) == 1 and not word.strip(" .").isdigit():
        return numbers[0] + 1
    short = folded(word)
    if not numbers and len(short) > 3 and short[:3] in words("months"):
        near = {number for name, known in words("months").items() if name.startswith(short) for number in known}
        return near.pop() + 1 if len(near) == 1 else None
    return None


def dates_meant(text: str) -> list[str]:
    """The dates that a text can mean, as a file has them; none where it is no whole date."""
    said = re.sub(r"(?<=\d)(st|nd|rd|th)\b|\b(de|of|del|d')\b", " ", plain(text), flags=re.IGNORECASE)
    said = re.sub(r"(?<=\d)T\d.*$", "", said)
    compact = re.fullmatch(r"((?:19|20)\d\d)-?(\d\d)-?(\d\d)", said.strip())
    if compact:
        return real([compact.groups()])
    east = re.fullmatch(r"\s*(\d{4})[年년]\s*(\d{1,2})[月월]\s*(\d{1,2})[日일]\s*", text)
    if east:
        return real([east.groups()])
    tokens = re.findall(r"\d+|[^\W\d_]+", said)
    numbers = [token for token in tokens if token.isdigit()]
    named = [month for month in (month_of(token) for token in tokens if not token.isdigit()) if month]
    others = [token for token in tokens if not token.isdigit() and not month_of(token) and not days_meant(token)]
    if named and len(numbers) == 1 and len(others) == 1 and (part := PARTS_OF_A_MONTH.get(folded(others[0]))):
        year = full_year(numbers[0])
        return real([(year, named[0], min(part, calendar.monthrange(int(year), named[0])[1]))])
    if others or len(named) > 1:
        return []
    if named and len(numbers) == 2:
        if tokens[-1] not in numbers and all(len(number) < 4 for number in numbers):
            return []  # two days before their month
        year = next((number for number in numbers if len(number) == 4), numbers[1])
        day = next(number for number in numbers if number is not year)
        return real([(full_year(year), named[0], day)])
    if len(numbers) != 3 or named:
        return []
    first, second, third = numbers
    if len(first) == 4:
        return real([(first, second, third)])
    year = full_year(third)
    if "." in said:
        return real([(year, second, first)])
    return real([(year, second, first), (year, first, second)])


def full_year(text: str) -> str:
    """Two figures of a year are of this century."""
    return text if len(text) == 4 else f"20{int(text):02d}"


def real(candidates: Iterable[tuple[object, ...]]) -> list[str]:
    """The candidates (year, month, day) that are days, each once."""
    found = []
    for year, month, day in candidates:
        try:
            found.append(dt.date(int(str(year)), int(str(month)), int(str(day))).isoformat())
        except (OverflowError, ValueError):
            continue
    return list(dict.fromkeys(found))


def months_before(date: dt.date, first: dt.date) -> dt.date:
    """The same day, the 28th at most, of the last month in which it comes before another."""
    date = date.replace(day=min(date.day, 28))
    while date >= first:
        date = (date.replace(day=1) - dt.timedelta(days=1)).replace(day=date.day)
    return date


def date_advice(text: str) -> str | None:
    """What to write for one date; None where the text is none."""
    found = dates_meant(text)
    if len(found) == 2:
        days = [dt.date.fromisoformat(one) for one in found]
        told = ", ".join(f"{day} if it is {day.day} {day:%B}" for day in days)
        return f"write {told}."
    if found:
        return f"write {found[0]}."
    said = plain(text)
    tokens = re.findall(r"\d+|[^\W\d_]+", said)
    if (len(tokens) == 2 and any(month_of(token) for token in tokens)) or re.fullmatch(r"\d{1,2}[./]\d{1,2}\.?", said):
        return NO_YEAR
    return None


def range_advice(text: str) -> str | None:
    """What to write for one date or the first and the last of several; None where the text is neither."""
    said = plain(text)
    single = date_advice(said)
    if single and single.startswith("write"):
        return single
    for parts in halves(said):
        found = [dates_meant(part) for part in parts]
        if all(len(one) == 1 for one in found):
            first, last = sorted((found[0][0], found[1][0]))
            return f"write {first}/{last}."
        if all(found):
            both = list(zip(*[one if len(one) == 2 else one * 2 for one in found], strict=True))
            told = " or ".join("/".join(pair) for pair in both if pair[0] <= pair[1])
            return f"write {told}, by which figure is the month." if told else None
    month = one_month(said)
    if month:
        last_day = calendar.monthrange(int(month[:4]), int(month[5:]))[1]
        return f"for the whole month write {month}-01/{month}-{last_day}."
    parts_said = re.split(r"\s*[,;]\s*|\s+(?:and|und|y|et|e)\s+", said)
    year = re.search(r"(?:19|20)\d\d", parts_said[-1])
    if year and len(parts_said) > 1:
        parts_said = [part if re.search(r"\d{4}", part) else f"{part.rstrip('. ')}.{year[0]}" for part in parts_said]
    listed = [one_stretch(part) for part in parts_said] if len(parts_said) > 1 else []
    if listed and all(listed):
        return f"write {in_brackets(one for one in listed if one)}."
    return single or (NO_YEAR if in_year(said, LEAP_YEAR) else None)


def in_year(text: str, year: int) -> str | None:
    """The advice for a text that names no year, were it of this one; None where that makes no date of it."""
    said = plain(text)
    if re.search(r"(?:19|20)\d\d", said):
        return None
    mark = "." if "." in said else "/" if "/" in said else " "
    told = range_advice(f"{said.rstrip(' .')}{mark}{year}")
    return told if told and told.startswith("write") else None


def one_stretch(said: str) -> str | None:
    """A date or the first and the last of several, as a file has them; None where that is not sure."""
    if re.fullmatch(rf"{ISO.pattern}(/{ISO.pattern})?", said.strip()):
        return said.strip()
    found = re.fullmatch(r"write ([\d/-]+)\.", range_advice(said) or "")
    return found[1] if found else None


def halves(said: str) -> list[tuple[str, str]]:
    """How a text may be parted into a first and a last date; a first without month or year takes those of the last."""
    found = []
    year_once = re.fullmatch(r"(\d{4})-(\d\d-\d\d)\s*/\s*(\d\d-\d\d)", said)
    if year_once:
        found.append((f"{year_once[1]}-{year_once[2]}", f"{year_once[1]}-{year_once[3]}"))
    last_day = re.fullmatch(rf"({ISO.pattern})(?:{TO}|\s*[-+&,]\s*)(\d{{1,2}})\.?", said)
    if last_day:
        found.append((last_day[1], f"{last_day[1][:8]}{int(last_day[2]):02d}"))
    two = ISO.findall(said)
    if len(two) == 2:
        found.append((two[0], two[1]))
    short = re.fullmatch(rf"(\d{{1,2}}\.?)(?:{TO}|\s*-\s*)(\d{{1,2}}[.\s/].+)", said)
    if short:
        found.append((re.sub(r"^\d{1,2}", short[1].rstrip("."), short[2]), short[2]))
    english = re.fullmatch(r"([^\W\d_]+)\.?\s+(\d{1,2})\s*-\s*(\d{1,2}),?\s+(\d{4})", said)
    if english:
        found.append((f"{english[1]} {english[2]} {english[4]}", f"{english[1]} {english[3]} {english[4]}"))
    for gap in (rf"\s+{WORDED}\s+|\s+-\s+|\s*(?:\.\.\.?|…|~|->|=>)\s*", TO, r"\s*-\s*"):
        parts = re.split(gap, said)
        if len(parts) == 2:
            year = re.search(r"\d{4}", parts[1])
            first = parts[0]
            if year and not re.search(r"\d{4}", first):
                first = f"{first.rstrip(' .')}{'.' if '.' in first else ' '}{year[0]}"
            found.append((first, parts[1]))
    return found


def months_meant(text: str) -> list[str]:
    """The months of a text, as a file has them: one, several or all of a range; none where it names none."""
    said = plain(text).strip("[]")
    parts = [part for part in re.split(r"\s*[,;]\s*|\s+(?:and|und|y|et|e|\+|&)\s+", said) if part]
    if len(parts) > 1:
        year = next(
            (found[0] for found in (re.search(r"(?:19|20)\d\d", part) for part in reversed(parts)) if found), ""
        )
        listed = [months_meant(part if re.search(r"\d{4}", part) else f"{part} {year}") for part in parts]
        return [one for some in listed for one in some] if all(listed) else []
    one = one_month(said)
    if one:
        return [one]
    quarter = re.fullmatch(r"[QT]\s*([1-4])[\s/-]*(20\d\d)|(20\d\d)[\s/-]*[QT]\s*([1-4])", said, re.IGNORECASE)
    if quarter:
        year, opening = quarter[2] or quarter[3], 3 * int(quarter[1] or quarter[4]) - 2
        return [f"{year}-{number:02d}" for number in range(opening, opening + 3)]
    year_once = re.fullmatch(rf"(20\d\d-)(\d\d)(?:{TO}|\s*-\s*)(\d\d)", said)
    if year_once and year_once[2] < year_once[3] <= "12":
        return months_between(f"{year_once[1]}{year_once[2]}", f"{year_once[1]}{year_once[3]}")
    for gap in (TO, r"\s*-\s*"):
        ends = re.split(gap, said)
        if len(ends) == 2:
            last = one_month(ends[1])
            first = one_month(ends[0]) or (one_month(f"{ends[0]} {last[:4]}") if last else None)
            if first and last and first <= last:
                return months_between(first, last)
    dates = re.findall(r"\d{4}-\d\d", said) if re.fullmatch(r"\d{4}-\d\d\D+\d{4}-\d\d", said) else []
    return months_between(dates[0], dates[1]) if len(dates) == 2 and dates[0] <= dates[1] else []


def one_month(said: str) -> str | None:
    """`March 2027`, `03/2027`, `2027.3`, `mars-27` as 2027-03."""
    said = re.sub(r"\b(de|of|del)\b|[年月년월]", " ", said.strip(), flags=re.IGNORECASE)
    tokens = re.findall(r"\d+|[^\W\d_]+", said)
    if len(tokens) == 1 and re.fullmatch(r"20\d{4}", said.strip()):
        tokens = [said[:4], said[4:]]
    if len(tokens) != 2:
        return None
    if re.fullmatch(r"\d{1,2}\s*[/.-]\s*\d\d", said.strip()) and int(tokens[0]) <= 12 < int(tokens[1]):
        tokens = [tokens[0], f"20{tokens[1]}"]
    year = next((token for token in tokens if re.fullmatch(r"(19|20)\d\d", token)), None)
    name = next((token for token in tokens if not token.isdigit()), None)
    if year is None and name and re.fullmatch(r"\d\d", tokens[1]):
        year, tokens = f"20{tokens[1]}", [tokens[0], f"20{tokens[1]}"]
    other = next((token for token in tokens if token != year), "")
    number = int(other) if other.isdigit() else month_of(other)
    return f"{year}-{number:02d}" if year and number and 1 <= number <= 12 else None


def months_between(first: str, last: str) -> list[str]:
    """All months from one to another, two years at most."""
    low, high = (12 * int(text[:4]) + int(text[5:]) - 1 for text in (first, last))
    return [f"{number // 12}-{number % 12 + 1:02d}" for number in range(low, min(high, low + 24) + 1)]


def month_advice(text: str) -> str | None:
    """What to write for months; None where the text names none."""
    found = months_meant(text)
    if len(found) > 1:
        return f"write {in_brackets(found)}."
    if found:
        return f"write {found[0]}."
    said = plain(text)
    if re.fullmatch(r"0?[1-9]|1[0-2]", said):
        return f"the year is missing; write it before the month, as in 2027-{int(said):02d}."
    if re.fullmatch(r"20\d\d", said):
        return f"the month is missing; write for instance {said}-03, or several as [{said}-03, {said}-04]."
    if said.casefold() in ("next", "next month", "coming", "auto"):
        return "leave the line out: the next calendar month is planned then."
    if month_of(plain(text)):
        return f"the year is missing; write it before the number of the month, as in 2027-{month_of(plain(text)):02d}."
    whole = dates_meant(text)
    if whole:
        return f"write {whole[0][:7]} for the month; a first and a last date go under `dates:`."
    pieces = [dates_meant(part) for part in (next(iter(halves(plain(text))), ()))]
    if len(pieces) == 2 and all(pieces):
        return f"that is a stretch of dates: write `dates: {pieces[0][0]}/{pieces[1][0]}` instead of months."
    return None
