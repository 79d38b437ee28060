"""Letter, message, invitation and note in a partner's language: the English beneath, and the same figures in both."""

from __future__ import annotations

import dataclasses
import datetime as dt
import html
import json
import re
from collections import Counter
from collections.abc import Callable
from functools import cache

import icalendar
import pytest

from pipeline.inputs.languages import ENGLISH, languages
from pipeline.letters import chat, making, morning_after
from pipeline.letters.chat import LONGEST
from pipeline.letters.question_words import question_words
from pipeline.outlook.questions import Question, Thing
from pipeline.plan.plan import Plan
from pipeline.record.log_csv import read_log
from pipeline.wording import phrases, sentences, speech
from tests.letters.letters_of import letter_text, made_for, with_letters, with_station
from tests.letters.readers import body, opened, words, words_of_html
from tests.letters.stand_in import demo_letters, offer_of, slot, with_slots
from tests.letters.test_letter_choices import with_others, with_unknown_sky
from tests.plan.months import month_plan

OTHERS = [code for code in languages() if code != ENGLISH]
BREAK = f"\n{'=' * 40}\nIN ENGLISH\n"
DAYS = [dt.date(2027, 2, 1) + dt.timedelta(days=number) for number in range(100)]
PERIOD = (dt.date(2027, 3, 1), dt.date(2027, 3, 31))


@cache
def dated(code: str) -> tuple[re.Pattern[str], dict[str, str]]:
    """What matches any way of writing a date in a language, and which date each is."""
    station = with_station(month_plan(), "QF4LUM", language=code).inputs.partner("QF4LUM")
    told = speech.speech_for(station)
    names = {told.period(*PERIOD): "<March>"}
    for date in DAYS:
        ways = (told.day_long(date), told.day_long(date, False), told.day(date), told.day(date, False))
        names |= dict.fromkeys(ways, f"<{date:%d.%m}>")
    names = {name.casefold(): date for name, date in names.items()}
    return re.compile("|".join(map(re.escape, sorted(names, key=len, reverse=True)))), names


def figures(text: str, code: str) -> Counter[str]:
    """Dates, numbers, calls and locators of a text, whatever its language."""
    pattern, names = dated(code)
    text = re.sub(r"(?<=\d),(?=\d{3}\b)", "", text.replace("\N{NO-BREAK SPACE}", " "))
    # Headings are in capitals.
    text = text.casefold()
    dates = [names[one] for one in pattern.findall(text)]
    rest = pattern.sub(" ", text)
    calls = re.findall(r"(?<![a-z0-9])(?:q[a-z]\d[a-z]{3}|[a-r]{2}\d{2}[a-x]{2})(?![a-z0-9])", rest)
    return Counter([*dates, *calls, *re.findall(r"\d+(?:[.:]\d+)*", rest)])


def parts(text: str) -> tuple[list[str], list[str]]:
    """The lines in the partner's language and those beneath; the note on top is of the first alone."""
    theirs, _, english = text.partition(BREAK)
    return [one for one in theirs.splitlines()[1:] if one], [one for one in english.splitlines() if one]


def spoken_to(plan: Plan, call: str, code: str) -> making.Made:
    return made_for(with_station(plan, call, language=code), call)


def of_season(call: str) -> Plan:
    """The demo's season, in which one partner's zone is not known."""
    plan = demo_letters()
    return with_station(plan, call, email="haru@kawara.example", time_zone=None) if call == "QJ2KAW" else plan


def with_a_telephone(_: str) -> Plan:
    """The demo's season with a number to meet at."""
    return with_letters(demo_letters(), meet="+598 0000 0000")


@cache
def in_english(season: Callable[[str], Plan], call: str) -> making.Made:
    """What somebody gets who is written to in English: one for all languages."""
    return made_for(season(call), call)


def moved() -> Plan:
    """Slots that are new, agreed, moved and withdrawn."""
    base = month_plan()
    row, gone = slot(base, "QF4LUM", "A", 6), slot(base, "QF4LUM", "B", 12)
    offers = (offer_of(slot(base, "QF4LUM", "A", 7)), offer_of(gone))
    return with_slots(base, row, slot(base, "QF4LUM", "C", 9), offers=offers, withdrawn=[gone])


@pytest.mark.parametrize("code", OTHERS)
@pytest.mark.parametrize("call", ["QF4LUM", "QZ5KAR", "QK3RED", "QI9TEA", "QN1PIK", "QJ2KAW"])
def test_each_line_holds_the_figures_of_the_english_line(code: str, call: str) -> None:
    made = spoken_to(of_season(call), call, code)
    theirs, english = parts(letter_text(made))
    assert len(theirs) == len(english) > 10
    for one, other in zip(theirs, english, strict=True):
        assert figures(one, code) == figures(other, ENGLISH), (one, other)
    # What stands beneath is the very letter of somebody who is written to in English.
    assert english == [one for one in letter_text(in_english(of_season, call)).splitlines() if one]


def test_a_percent_sign_stays_with_its_number_where_lines_are_broken_by_who_reads() -> None:
    """In the HTML; plain text keeps the blank that every mail program shows."""
    made = in_english(of_season, "QF4LUM")
    page = re.sub(r"<[^>]*>", "", body(opened(made.files["letter.eml"]), "html"))
    assert set(re.findall(r"\d(\s)%", page)) == {"\N{NO-BREAK SPACE}"}
    assert set(re.findall(r"\d(\s)%", letter_text(made))) == {" "}


@pytest.mark.parametrize("code", OTHERS)
def test_what_has_changed_too_and_the_withdrawal(code: str) -> None:
    made = spoken_to(moved(), "QF4LUM", code)
    for name in ("letter.eml", "withdrawal.eml"):
        mail = opened(made.files[name])
        theirs, english = parts(body(mail, "plain").replace("\r\n", "\n"))
        for one, other in zip(theirs, english, strict=True):
            assert figures(one, code) == figures(other, ENGLISH), (one, other)
        first, _, second = str(mail["Subject"]).partition(" / ")
        assert second.startswith("Moon contact with QM7TOR")
        assert first != second
        assert "QM7TOR" in first
        html = body(mail, "html")
        assert f'<html lang="{code}">' in html
        assert '<div lang="en">' in html
        plain = [word for word in words(body(mail, "plain")) if set(word) != {"="}]
        assert [word.casefold() for word in words_of_html(html)] == [word.casefold() for word in plain]


@pytest.mark.parametrize("code", OTHERS)
def test_other_times_and_the_question_about_the_sky(code: str, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = with_others(with_unknown_sky(demo_letters()), 1)
    assert len(spoken_to(plan, "QF4LUM", code).files["message.txt"].decode()) <= LONGEST
    monkeypatch.setattr(chat, "LONGEST", 5000)
    made = spoken_to(plan, "QF4LUM", code)
    theirs, english = parts(letter_text(made))
    assert any("sky free" in line for line in theirs)
    lines, beside = (made.files[name].decode().splitlines() for name in ("message.txt", "message_en.txt"))
    for one, other in [*zip(theirs, english, strict=True), *zip(lines, beside, strict=True)]:
        assert figures(one, code) == figures(other, ENGLISH), (one, other)
    # Of what is said in words alone nothing stays English.
    said = [one for one in theirs if one in english and re.search("[a-z]{3}", one)]
    assert [one for one in said if "example" not in one and "Ines" not in one] == []


@pytest.mark.parametrize("code", OTHERS)
@pytest.mark.parametrize("call", ["QF4LUM", "QT8NUI", "QI9TEA", "QK3RED", "QN1PIK"])
def test_the_message_has_its_language_and_the_english_one_lies_beside(
    code: str, call: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In 600 characters a longer language has room for less, and says nothing else."""
    plan = with_a_telephone(call)
    made = spoken_to(plan, call, code)
    text, english = (made.files[name].decode() for name in ("message.txt", "message_en.txt"))
    assert english == in_english(with_a_telephone, call).files["message.txt"].decode()
    assert len(text) <= LONGEST
    # Where to point and what to dial is never left out for one slot or two.
    aims = re.findall(r"10368\.\d{5}", english)
    assert re.findall(r"10368\.\d{5}", text) == aims
    assert "+598 0000 0000" in text
    monkeypatch.setattr(chat, "LONGEST", 5000)
    whole = spoken_to(plan, call, code)
    lines, beside = (whole.files[name].decode().splitlines() for name in ("message.txt", "message_en.txt"))
    for one, other in zip(lines, beside, strict=True):
        assert figures(one, code) == figures(other, ENGLISH), (one, other)
    assert not figures(text, code) - figures("\n".join(beside), ENGLISH)


@pytest.mark.parametrize("code", OTHERS)
def test_invitations_and_windows_hold_both(code: str) -> None:
    plan = demo_letters()
    made, english = spoken_to(plan, "QF4LUM", code), made_for(plan, "QF4LUM")
    events = []
    for one in (made, english):
        mail = opened(one.files["letter.eml"])
        found = [part for part in mail.walk() if part.get_filename("").endswith(".ics")]
        events.append([icalendar.Calendar.from_ical(part.get_content()).walk("VEVENT")[0] for part in found])
    for event, other in zip(*events, strict=True):
        assert (event["uid"], event["dtstart"].dt) == (other["uid"], other["dtstart"].dt)
        theirs, _, beneath = str(event["description"]).partition("\n\nIn English\n")
        assert beneath == str(other["description"])
        assert figures(theirs, code) == figures(beneath, ENGLISH)
        assert event["summary"] != other["summary"]
        assert figures(str(event["summary"]), code) == figures(str(other["summary"]), ENGLISH)
    windows = icalendar.Calendar.from_ical(made.files["windows.ics"]).walk("VEVENT")
    assert all("Not a slot: nothing is agreed." in str(one["description"]) for one in windows)
    assert "strong" not in str([str(one["summary"]) for one in windows])


@pytest.mark.parametrize("code", OTHERS)
def test_the_note_after_a_night(code: str) -> None:
    plan = with_station(demo_letters(), "QF4LUM", language=code)
    first = next(one for one in plan.slots if one.call == "QF4LUM")
    row = f"QF4LUM,{first.start:%Y-%m-%dT%H:%MZ},-17,-19,yes"
    log = read_log(f"partner,slot_start_utc,report_sent,report_received,completed\n{row}\n")
    (note,), _ = morning_after.notes_after(plan, first.night, log)
    for one, other in zip(note.message.splitlines(), note.english.splitlines(), strict=True):
        assert figures(one, code) == figures(other, ENGLISH)
    assert note.english.startswith("Hello Aino Lummela, QM7TOR here.\n")
    assert note.mail is not None
    theirs, english = parts(body(opened(note.mail), "plain").replace("\r\n", "\n"))
    assert len(theirs) == len(english)


def test_a_letter_in_english_has_nothing_beneath() -> None:
    made = made_for(demo_letters(), "QF4LUM")
    assert "message_en.txt" not in made.files
    assert "English" not in letter_text(made)
    assert " / " not in json.loads(made.files["letter.json"])["subject"]


def test_as_long_as_nobody_has_read_the_translation_the_letter_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = demo_letters()
    unread = letter_text(spoken_to(plan, "QF4LUM", "de")).splitlines()[0]
    assert unread.startswith("Diese Übersetzung hat noch niemand gelesen")
    assert unread.endswith("gilt der englische.")
    monkeypatch.setattr(speech.Speech, "is_read", True)
    assert letter_text(spoken_to(plan, "QF4LUM", "de")).splitlines()[0] == unread.partition(". ")[2]


def test_another_language_is_no_reason_to_write_again() -> None:
    """The digest is that of the English text, so that a better translation sends nothing either."""
    plan = demo_letters()
    digests = {
        json.loads(spoken_to(plan, "QF4LUM", code).files["letter.json"])["content_digest"] for code in languages()
    }
    assert len(digests) == 1


def test_a_change_is_told_in_both_where_other_words_are_new() -> None:
    base = month_plan()
    row = slot(base, "QF4LUM", "A", 6)
    plan = with_slots(base, row, offers=(offer_of(row, digest="other"),))
    theirs, english = parts(letter_text(spoken_to(plan, "QF4LUM", "de")))
    assert any("Andere Zeilen sind neu" in line for line in theirs)
    assert any("Other lines are new" in line for line in english)


@pytest.mark.parametrize("code", OTHERS)
def test_every_other_question_has_the_figures_of_the_english_one(code: str) -> None:
    plan = demo_letters()
    english = plan.for_partner("QF4LUM")
    theirs = with_station(plan, "QF4LUM", language=code).for_partner("QF4LUM")
    for thing in set(Thing) - {Thing.SKY}:
        for short in (False, True):
            asked = (Question(thing, 1.0),)
            one, other = (
                question_words(dataclasses.replace(view, questions=asked), short) for view in (theirs, english)
            )
            assert figures(one, code) == figures(other, ENGLISH), (one, other)
            assert one != other


def test_a_season_s_own_words_stay_as_they_are() -> None:
    plan = with_letters(demo_letters(), greeting="Servus {operator}", closing="73 im {period}", meet="+598 0000 0000")
    theirs, _ = parts(letter_text(spoken_to(plan, "QF4LUM", "de")))
    assert theirs[0] == "Servus Aino Lummela,"
    assert "73 im März 2027" in theirs


def test_a_name_in_other_letters_stays_in_a_message_of_its_language() -> None:
    plan = with_station(demo_letters(), "QF4LUM", operator="川辺 春", language="ja")
    made = made_for(plan, "QF4LUM")
    assert made.files["message.txt"].decode().startswith("川辺 春様、")
    assert made.files["message_en.txt"].decode().startswith("Hello QF4LUM, ")


def sheets_of(plan: Plan, call: str) -> tuple[str, list[str]]:
    """The HTML of a partner's page, and that of its sheets in each language without marks."""
    (page,) = making.page_documents([plan.for_partner(call)], making.Templates()).values()
    parts = re.split(r'<section class="english" lang="en">|</section>', page.html.partition("<main>")[2])
    return page.html, [" ".join(re.sub(r"<[^>]*>", " ", html.unescape(part)).split()) for part in parts[:2]]


@pytest.mark.parametrize("code", [code for code in OTHERS if code != "ja"])
@pytest.mark.parametrize("call", ["QF4LUM", "QK3RED"])
def test_the_page_is_in_its_language_with_the_english_sheets_behind(code: str, call: str) -> None:
    plan = demo_letters()
    whole, (theirs, english) = sheets_of(with_station(plan, call, language=code), call)
    assert f'<html lang="{code}">' in whole
    assert english == sheets_of(plan, call)[1][0]
    note = speech.speech_for(with_station(plan, call, language=code).inputs.partner(call)).say(phrases.NOBODY_READ_IT)
    assert theirs.startswith(note)
    assert figures(theirs, code) == figures(english, ENGLISH)
    for sentence in (phrases.PAGE_NOTE, phrases.PAGE_ALL_REST, phrases.PAGE_OPENS, sentences.AIR_TITLE):
        assert sentence in english
        assert sentence not in theirs


def test_points_and_count_of_pages_are_in_its_language_too() -> None:
    plan = demo_letters()
    page, (theirs, english) = sheets_of(with_station(plan, "QF4LUM", language="de"), "QF4LUM")
    assert '@bottom-right { content: "Seite " counter(page) " von " counter(pages) ""; }' in page
    # What stands later in the sheet wins, and the stylesheet has the English words.
    assert page.index("Seite ") > page.index('content: "page "')
    assert [(" West " in text, " west " in text) for text in (theirs, english)] == [(True, False), (False, True)]


def test_without_its_letters_in_the_font_the_page_is_the_english_one() -> None:
    """The pages' font has no Japanese ones: the letter's HTML has them, in the reader's own font."""
    plan = demo_letters()
    pages = making.page_documents(
        [with_station(plan, "QF4LUM", language="ja").for_partner("QF4LUM")], making.Templates()
    )
    assert pages == making.page_documents([plan.for_partner("QF4LUM")], making.Templates())
