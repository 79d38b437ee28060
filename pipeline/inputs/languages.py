"""Languages in which a partner can be written to: English, and each that `data/languages` holds a catalogue of.

A catalogue is a file of GNU gettext (`de.po`), read by Babel and handed on as the standard library's translations.
"""

from __future__ import annotations

from functools import cache
from gettext import GNUTranslations
from io import BytesIO
from pathlib import Path

from babel import Locale

ENGLISH = "en"
LANGUAGES_FOLDER = Path(__file__).resolve().parent.parent / "data" / "languages"


@cache
def languages() -> tuple[str, ...]:
    """All of them by their ISO 639 codes, English first: a file more is a language more."""
    return (ENGLISH, *sorted(file.stem for file in LANGUAGES_FOLDER.glob("*.po")))


def named() -> str:
    """`en (English), de (German), ...`, as a refusal lists them."""
    return ", ".join(f"{code} ({Locale.parse(code).english_name})" for code in languages())


@cache
def catalogue(language: str) -> GNUTranslations:
    """The sentences of one language other than English, its header in `info()`."""
    # Whoever writes in English alone does not wait for these.
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    with (LANGUAGES_FOLDER / f"{language}.po").open("rb") as file:
        read = read_po(file, locale=language, abort_invalid=True)
    compiled = BytesIO()
    write_mo(compiled, read)
    compiled.seek(0)
    return GNUTranslations(compiled)
