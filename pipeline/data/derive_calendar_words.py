"""Derives `calendar_words.json`, what months and weekdays are called in many languages, so that no run asks each anew.

From the Unicode CLDR by the package babel, whose languages take longer to load than most commands to run.
Run by hand: python -m pipeline.data.derive_calendar_words
"""

from __future__ import annotations

import json

from babel import Locale

from pipeline.inputs.days_said import CALENDAR_WORDS, LANGUAGES, Words, folded

KINDS = ("months", "days")


def words_of(kind: str) -> Words:
    """`days` or `months` by their folded words: which number each stands for (from 0), and in which languages."""
    found: dict[str, dict[int, list[str]]] = {}
    for code in LANGUAGES:
        locale = Locale.parse(code)
        for forms in getattr(locale, kind).values():
            for width in ("abbreviated", "wide", "short"):
                for number, word in forms.get(width, {}).items():
                    meanings = found.setdefault(folded(word), {}).setdefault(number - (kind == "months"), [])
                    if locale.english_name not in meanings:
                        meanings.append(locale.english_name or code)
    return {word: {number: tuple(names) for number, names in meanings.items()} for word, meanings in found.items()}


def main() -> None:
    """Write the table beside this module, a line a word."""
    parts = []
    for kind in KINDS:
        lines = [f"{json.dumps(word)}: {json.dumps(meanings)}" for word, meanings in words_of(kind).items()]
        parts.append(f'"{kind}": {{\n' + ",\n".join(lines) + "\n}")
    CALENDAR_WORDS.write_text("{" + ",\n".join(parts) + "}\n", encoding="utf-8")


if __name__ == "__main__":
    main()
