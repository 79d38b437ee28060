"""The catalogues: whole, with the places of the English sentences and no other, and honest about who has read them."""

from __future__ import annotations

import datetime as dt
import re
import string
from collections.abc import Iterator

import pytest
from babel import Locale
from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po

from pipeline.inputs.languages import ENGLISH, LANGUAGES_FOLDER, catalogue, languages, named
from pipeline.inputs.modes import mode_table
from pipeline.wording import formats, sentences, speech
from pipeline.wording.operating import chance_words, mode_title, title_words
from pipeline.wording.words import local_words, short_span
from tests.wording.test_speech import table

OTHERS = [code for code in languages() if code != ENGLISH]
HOUR = dt.timedelta(hours=1)


def places(sentence: str) -> set[str]:
    """The named figures of a sentence."""
    return {name for _, name, _, _ in string.Formatter().parse(sentence) if name is not None}


def numbers(sentence: str) -> list[str]:
    """The figures that are written out."""
    return sorted(re.findall(r"\d+", re.sub(r"\{\w+\}", "", sentence)))


def read(code: str) -> Catalog:
    with (LANGUAGES_FOLDER / f"{code}.po").open("rb") as file:
        return read_po(file, locale=code, abort_invalid=True)


def spoken(code: str) -> speech.Speech:
    return speech.Speech(code, catalogue(code), Locale.parse(code))


def pairs() -> Iterator[tuple[str, str]]:
    """The sentences that are counted: the one of one and that of many."""
    for name, one in vars(sentences).items():
        many = getattr(sentences, f"{name.removesuffix('_ONE')}_MANY", None) if name.endswith("_ONE") else None
        if isinstance(one, dict) and many is not None:
            yield from zip(one.values(), many.values(), strict=True)
        elif many is not None and name != "ONE_LEAD":
            yield one, many


def test_the_languages_to_begin_with() -> None:
    assert set(languages()) >= {"en", "de", "fr", "es", "pt", "it", "ja"}
    assert languages()[0] == ENGLISH
    assert "de (German)" in named()


def test_whoever_lays_out_a_station_file_reads_which_there_are() -> None:
    told = (LANGUAGES_FOLDER.parent / "new_folder" / "station.yaml").read_text("utf-8")
    assert f"English text beneath: {', '.join(languages())}." in told


@pytest.mark.parametrize("code", OTHERS)
def test_every_sentence_is_there_and_none_more(code: str) -> None:
    """Whatever is missing is printed as an entry to fill in."""
    counted = dict(pairs())
    keys = set(table()) - set(counted.values())
    held = {entry.id[0] if isinstance(entry.id, tuple) else entry.id for entry in read(code) if entry.id}
    missing = "".join(f'msgid "{key}"\nmsgstr ""\n\n' for key in sorted(keys - held))
    assert not missing, f"data/languages/{code}.po lacks:\n{missing}"
    assert held - keys == set()
    for entry in read(code):
        if entry.id:
            strings = entry.string if isinstance(entry.string, tuple) else (entry.string,)
            assert all(text.strip() for text in strings), entry.id
            assert not entry.fuzzy
            assert isinstance(entry.id, tuple) == (entry.id in counted.items())


@pytest.mark.parametrize("code", OTHERS)
def test_figures_of_a_translation_are_those_of_the_english_sentence(code: str) -> None:
    for entry in read(code):
        if not entry.id:
            continue
        one, many = entry.id if isinstance(entry.id, tuple) else (entry.id, entry.id)
        strings = entry.string if isinstance(entry.string, tuple) else (entry.string,)
        # A language without forms for a number names it also where English says "a time".
        allowed = [places(one), places(many), places(many) | {"number"}]
        for text in strings:
            assert places(text) in (allowed if one != many else allowed[:1]), text
            assert numbers(text) == numbers(many), text
            assert text.count("{") == len([name for _, name, _, _ in string.Formatter().parse(text) if name]), text
            assert "  " not in text


@pytest.mark.parametrize("code", OTHERS)
def test_each_form_of_a_counted_sentence_can_be_said(code: str) -> None:
    told = spoken(code)
    for one, many in pairs():
        figures = dict.fromkeys((places(one) | places(many)) - {"number"}, "QX1XX")
        for number in (1, 2, 5, 11, 101):
            said = told.count(one, many, number, **figures)
            assert said not in (one, many)
            assert not places(many) & {"number"} or number == 1 or str(number) in said


@pytest.mark.parametrize("code", OTHERS)
def test_what_a_catalogue_says_of_itself(code: str) -> None:
    """From memory and unread, until somebody who speaks the language signs."""
    head = (LANGUAGES_FOLDER / f"{code}.po").read_text("utf-8").partition("\nmsgid")[0]
    assert "from memory and unread by a speaker" in head.replace("\n# ", " ")
    assert Locale.parse(code).english_name in head
    assert spoken(code).is_read == bool(catalogue(code).info()["last-translator"])
    assert speech.ENGLISH_SPEECH.is_read


def test_who_signs_is_believed(monkeypatch: pytest.MonkeyPatch) -> None:
    signed = catalogue("de")
    monkeypatch.setattr(signed, "_info", signed.info() | {"last-translator": ""})
    assert not spoken("de").is_read
    monkeypatch.setattr(signed, "_info", signed.info() | {"last-translator": "QD1EU"})
    assert spoken("de").is_read


def test_a_sentence_may_be_missing_and_stays_english() -> None:
    assert spoken("de").say("A sentence of {call} alone.", call="QA1AA") == "A sentence of QA1AA alone."


@pytest.mark.parametrize(
    ("code", "long", "short", "month"),
    [
        ("de", "Samstag, 13. März 2027", "Sa., 13. März 2027", "März 2027"),
        ("fr", "samedi 13 mars 2027", "sam. 13 mars 2027", "mars 2027"),
        ("es", "sábado, 13 de marzo de 2027", "sáb, 13 mar 2027", "marzo de 2027"),
        ("pt", "sábado, 13 de março de 2027", "sáb., 13 de mar. de 2027", "março de 2027"),
        ("it", "sabato 13 marzo 2027", "sab 13 mar 2027", "marzo 2027"),
        ("ja", "2027年3月13日土曜日", "2027年3月13日(土)", "2027年3月"),
        ("en", "Saturday 13 March 2027", "Sat 13 Mar 2027", "March 2027"),
    ],
)
def test_dates_are_those_of_the_language(code: str, long: str, short: str, month: str) -> None:
    """From the Unicode CLDR as Babel has it; read here from memory of the languages, all but the English."""
    told = spoken(code) if code != ENGLISH else speech.ENGLISH_SPEECH
    date = dt.date(2027, 3, 13)
    assert (told.day_long(date), told.day(date)) == (long, short)
    assert told.period(dt.date(2027, 3, 1), dt.date(2027, 3, 31)) == month


def test_stretches_lists_and_figures() -> None:
    german, start = spoken("de"), dt.datetime(2027, 3, 13, 22, 30, tzinfo=dt.UTC)
    assert short_span(start, start + HOUR, dt.UTC, speech=german) == "Sa., 13. März 2027 22:30 bis 23:30"
    over = local_words(start, start + 2 * HOUR, dt.UTC, german)
    assert over == "Samstag, 13. März 2027, 22:30 bis Sonntag, 14. März 2027, 00:30 (UTC)"
    assert german.listed(["A", "B", "C"]) == "A, B und C"
    assert spoken("ja").listed(["A", "B"]) == "A、B"
    assert german.period(dt.date(2027, 3, 5), dt.date(2027, 4, 2)) == "5. März 2027 bis 2. April 2027"
    assert german.weekday(5) == "Sa"
    # 13.640 would be thirteen and a bit beside 10368.1 MHz.
    assert (german.whole(13640), speech.ENGLISH_SPEECH.whole(13640)) == ("13640", "13,640")


def test_titles_and_chances_say_in_english_what_the_other_pages_say() -> None:
    english = speech.ENGLISH_SPEECH
    for mode in mode_table():
        assert mode_title(mode, english) == mode.title
        assert title_words(mode.title, spoken("de")) == mode_title(mode, spoken("de"))
        assert "Perioden von" in mode_title(mode, spoken("de"))
    assert title_words("something of an old record", spoken("de")) == "something of an old record"
    limits = (0.9, 0.6, 0.25)
    for value in (0.01, 0.3, 0.598, 0.6, 0.899, 0.95, 0.999):
        assert chance_words(value, limits, english) == formats.chance(value, limits)
    assert chance_words(0.899, limits, spoken("de")) == "fast 90 %"
