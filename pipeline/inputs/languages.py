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

# ISO 639-2, both of its forms where it has two.
OTHER_CODES = {
    "en": ("eng", "uk", "us"), "de": ("deu", "ger"), "es": ("spa", "esp"), "fr": ("fra", "fre"), "it": ("ita",),
    "ja": ("jpn", "jp"), "pt": ("por", "br"),
}  # fmt: skip


@cache
def languages() -> tuple[str, ...]:
    """All of them by their ISO 639 codes, English first: a file more is a language more."""
    return (ENGLISH, *sorted(file.stem for file in LANGUAGES_FOLDER.glob("*.po")))


def named() -> str:
    """`en (English), de (German), ...`, as a refusal lists them."""
    return ", ".join(f"{code} ({Locale.parse(code).english_name})" for code in languages())


@cache
def names_of(code: str) -> frozenset[str]:
    """A language's names in all of them, and its codes of other parts of ISO 639, in small letters."""
    locale = Locale.parse(code)
    names = {str(locale.get_display_name(other)).casefold() for other in languages()}
    return frozenset({*names, *OTHER_CODES.get(code, ())})


def language_named(text: str) -> str | None:
    """The language that a name, `de-DE` or `ger` stands for; None where it is none of them."""
    said = text.casefold().strip()
    short = said.replace("_", "-").split("-")[0]
    return next((code for code in languages() if said in names_of(code) or short == code), None)


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
