"""Whatever a partner reads goes through the table of sentences: under a catalogue of crosses no English is left."""

from __future__ import annotations

import re
from gettext import NullTranslations

import icalendar
import pytest
from babel import Locale

from pipeline.letters import morning_after
from pipeline.plan.plan import Plan
from pipeline.record.log_csv import read_log
from pipeline.wording import speech
from tests.letters.letters_of import letter_text, made_for, with_letters
from tests.letters.readers import body, opened, words, words_of_html
from tests.letters.stand_in import demo_letters, offer_of, slot, with_slots
from tests.plan.months import month_plan

# Dates are written as in Japanese, without a Latin letter. Words that figures bring along: units, modes, time zones;
# names of calls, files and people.
LOCALE = Locale.parse("ja")
FIGURES = """UTC CW Hz MHz deg cm N E S W A B C Ines Calder Basalt Tor Mutual Moon Europe Helsinki"""
FILES = re.compile(r"(slot-[A-Z]|windows)\.(ics|pdf)|[a-z]+@[a-z-]+\.example")


class Crosses(NullTranslations):
    """Each letter of a sentence crossed out, its figures left."""

    def gettext(self, message: str) -> str:
        return "".join(
            part if part.startswith("{") else re.sub("[A-Za-z]", "x", part)
            for part in re.split(r"(\{[a-z]+\})", message)
        )

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.gettext(msgid1 if n == 1 else msgid2)


@pytest.fixture
def crossed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(speech.SPEECHES, speech.ENGLISH, speech.Speech("qx", Crosses(), LOCALE))


def left_of(text: str, plan: Plan) -> set[str]:
    """The words that no catalogue has reached and no figure brings."""
    people = " ".join(f"{one.operator} {one.name} {one.time_zone}" for one in plan.inputs.partners)
    known = {word.casefold() for word in re.findall("[A-Za-z]+", f"{FIGURES} {people} {plan.number}")}
    # Calls and locators hold digits: what stands beside one is no word.
    found = re.findall(r"(?<![\dA-Za-z])[A-Za-z]+(?![\dA-Za-z])", FILES.sub("", text))
    return {word for word in found if not re.fullmatch("[xX]+", word) and word.casefold() not in known}


def moved() -> Plan:
    """Slots that are new, agreed, moved and withdrawn."""
    base = month_plan()
    row, gone = slot(base, "QF4LUM", "A", 6), slot(base, "QF4LUM", "B", 12)
    new = slot(base, "QF4LUM", "C", 9)
    offers = (offer_of(slot(base, "QF4LUM", "A", 7)), offer_of(gone))
    return with_slots(base, row, new, offers=offers, withdrawn=[gone])


@pytest.mark.parametrize("call", ["QF4LUM", "QZ5KAR", "QK3RED", "QI9TEA", "QN1PIK"])
@pytest.mark.usefixtures("crossed")
def test_letter_message_and_invitations_hold_nothing_but_the_table(call: str) -> None:
    for whole in (demo_letters(), moved()):
        plan = with_letters(whole, meet="+598 0000")
        made = made_for(plan, call)
        mail = opened(made.files["letter.eml"])
        assert 'lang="qx"' in body(mail, "html")
        assert words_of_html(body(mail, "html")) == words(body(mail, "plain"))
        texts = [str(mail["Subject"]), letter_text(made), made.files["message.txt"].decode()]
        if "withdrawal.eml" in made.files:
            short = opened(made.files["withdrawal.eml"])
            texts += [str(short["Subject"]), body(short, "plain")]
        calendars = [part for part in mail.walk() if part.get_content_type() == "text/calendar"]
        for part in calendars:
            for event in icalendar.Calendar.from_ical(part.get_content()).walk("VEVENT"):
                texts += [str(event["summary"]), str(event["description"])]
                texts += [str(alarm["description"]) for alarm in event.walk("VALARM")]
        assert [left_of(text, plan) for text in texts] == [set()] * len(texts)


@pytest.mark.usefixtures("crossed")
def test_the_note_after_a_night_too() -> None:
    plan = demo_letters()
    first = next(one for one in plan.slots if one.call == "QF4LUM")
    row = f"QF4LUM,{first.start:%Y-%m-%dT%H:%MZ},-17,-19,yes"
    log = read_log(f"partner,slot_start_utc,report_sent,report_received,completed\n{row}\n")
    (note,), _ = morning_after.notes_after(plan, first.night, log)
    assert "\N{MINUS SIGN}17" in note.message
    assert left_of(note.message, plan) == set()
