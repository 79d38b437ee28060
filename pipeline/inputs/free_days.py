"""Public holidays of a country or a part of one, as free days: by the package holidays, asked by year.

Codes are those of ISO 3166: `UY`, or with a part `DE-BY`.
"""

from __future__ import annotations

import datetime as dt
import sys
from functools import cache, lru_cache
from types import ModuleType

from pipeline.inputs.scalars import Refusal
from pipeline.inputs.zones_said import plain_letters

# Languages in which a country's name is understood.
NAMED_IN = ("en", "de", "es", "fr", "it", "pt", "ja", "nl", "sv", "da", "nb", "fi", "pl", "cs", "hu", "uk")


def not_installed(what: str, package: str) -> str:
    """How to get a package of the extra `people`, for the very Python that runs."""
    return f"{what} by a package that is not installed here; type: {sys.executable} -m pip install {package}"


def holiday_code(text: str) -> str:
    """The code in capitals. Raises Refusal where no calendar of holidays is known for it."""
    code = text.strip().upper()
    country, _, part = code.partition("-")
    try:
        _library().country_holidays(country, subdiv=part or None, years=())
    except NotImplementedError:
        raise Refusal(_advice(country, part)) from None
    return code


@lru_cache(maxsize=64)
def holidays_in(code: str, year: int) -> frozenset[dt.date]:
    """The public holidays of a year."""
    country, _, part = code.partition("-")
    return frozenset(_library().country_holidays(country, subdiv=part or None, years=year))


def is_holiday(code: str | None, date: dt.date) -> bool:
    """Whether a date is one; of no code none is."""
    return code is not None and date in holidays_in(code, date.year)


def _advice(country: str, part: str) -> str:
    parts = _library().list_supported_countries().get(country)
    if part and parts is not None:
        known = f", such as {', '.join(f'{country}-{one}' for one in parts[:6])}" if parts else ""
        return f"no part of {country} is called so; write {country}{known}."
    meant = _countries().get(plain_letters(country)) if not part else None
    if meant:
        return f"a country's two letters are meant (ISO 3166); write {meant}."
    return "a country's two letters are meant (ISO 3166), such as UY, or with its part DE-BY."


@cache
def _countries() -> dict[str, str]:
    """The two letters of the countries whose holidays are known, by their names and three letters, folded."""
    from babel import Locale

    supported = _library().list_supported_countries()
    found = {"uk": "GB", "england": "GB", "holland": "NL", "czechrepublic": "CZ", "ceskarepublika": "CZ"}
    for languages in NAMED_IN:
        for code, name in Locale.parse(languages).territories.items():
            if code in supported:
                found.setdefault(plain_letters(name), code)
    three = {codes[2]: codes[1] for codes in _library().registry.COUNTRIES.values()}
    return found | {plain_letters(long): code for long, code in three.items() if code in supported}


def _library() -> ModuleType:
    try:
        import holidays
    except ImportError:
        raise Refusal(not_installed("holidays are known", "holidays")) from None
    return holidays
