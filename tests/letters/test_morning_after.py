"""The morning after: a note for each slot of a night, true to log and record, ready to paste and as a mail."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re
import shutil
from pathlib import Path

import pytest

from pipeline.letters import morning_after
from pipeline.letters.making import NoSender
from pipeline.plan.plan import Plan
from pipeline.record.log_csv import Log, read_log
from pipeline.record.model import Answer
from tests.agenda.slot_grids import with_record
from tests.conftest import Type
from tests.letters.letters_of import with_letters, with_station
from tests.letters.readers import body, opened
from tests.letters.stand_in import offer_of, slot, with_slots
from tests.plan.months import SEASON_FILE, month_plan

CALL = "QF4LUM"


@pytest.fixture(scope="module")
def base() -> Plan:
    return month_plan()


@pytest.fixture(scope="module")
def plan(base: Plan) -> Plan:
    """One slot on 10 March, 14:30 to 15:30 in Helsinki, one on 16 March."""
    return with_slots(base, slot(base, CALL, "A", 6), slot(base, CALL, "B", 12))


NIGHT = dt.date(2027, 3, 10)


def log_of(plan: Plan, cells: str) -> Log:
    start = plan.slots[0].start
    log = read_log(
        f"partner,slot_start_utc,report_sent,report_received,completed,time_utc\n{CALL},{start:%Y-%m-%dT%H:%MZ},{cells}\n"
    )
    assert log is not None
    return log


def message(plan: Plan, cells: str) -> str:
    night = plan.slots[0].night
    (note,), unknown = morning_after.notes_after(plan, night, log_of(plan, cells))
    assert unknown == ()
    return note.message


@pytest.mark.parametrize(
    ("logged", "told"),
    [
        ("-14,5", "\N{MINUS SIGN}14.5"),
        ("-14.50", "\N{MINUS SIGN}14.50"),
        ("\N{EN DASH} 7", "\N{MINUS SIGN}7"),
        ("+03", "+3"),
        ("3,5", "3.5"),
        ("-0", "0"),
        ("599", "599"),
        ("O", "O"),
        ("1,2,3", "1,2,3"),
    ],
)
def test_reports_have_the_letter_s_own_form_and_not_the_log_s(logged: str, told: str) -> None:
    assert morning_after.report_words(logged) == told


def test_the_note_has_a_point_where_the_log_has_a_comma(plan: Plan) -> None:
    assert "We gave you -14.5, you gave us -11.\n" in message(plan, '"-14,5",-11,yes,12:43')


def test_a_contact_is_told_with_both_reports_thanks_and_the_next_time(plan: Plan) -> None:
    text = message(plan, "-17,-19,yes,12:43")
    assert text.startswith("Hello Aino Lummela, QM7TOR here.\n")
    assert (
        "Our slot A by the Moon on 3 cm: Wed 10 Mar 2027 14:30 to 15:30 your time (UTC+2) = "
        "Wed 10 Mar 12:30 to 13:30 UTC.\n"
    ) in text
    assert (
        "Our contact is complete, at 12:43 UTC. We gave you -17, you gave us -19.\nThank you for the contact.\n" in text
    )
    # One contact was wanted: no other time is named, nor the second slot, which was held for the first's failing.
    assert "time for it" not in text
    assert "Thank you for the contact.\nGood echoes\n" in text
    assert text.endswith("Good echoes\nInes Calder\n")
    assert text.isascii()
    assert len(text) <= 600


@pytest.mark.parametrize(
    ("cells", "told"),
    [
        ("-17,,no,", "Our contact is not complete. We gave you -17.\nThank you for trying.\n"),
        (",O,no,", "Our contact is not complete. You gave us O.\n"),
        (",,nil,", "Our contact is not complete. We did not hear you.\n"),
        (",,yes,", "Our contact is complete.\nThank you for the contact.\n"),
    ],
)
def test_what_the_log_does_not_say_is_not_told(plan: Plan, cells: str, told: str) -> None:
    assert told in message(plan, cells)


def test_the_next_slot_is_told_as_it_stands(base: Plan) -> None:
    first = slot(base, CALL, "A", 6)
    for state, offered, told in (
        ("confirmed", True, "Our next time together: "),
        ("proposed", True, "The next time that we asked you for: "),
        ("proposed", False, "The next time that we have in mind for you: "),
    ):
        second = slot(base, CALL, "B", 12, state=state)
        plan = with_slots(base, first, second, offers=[offer_of(second)] if offered else [])
        assert told in message(plan, ",,no,")


def test_without_a_slot_the_next_stretch_that_both_can_use_is_told(base: Plan) -> None:
    call = "QN1PIK"
    plan = with_slots(base, slot(base, call, "A", 5))
    night = plan.slots[0].night
    usable = [one for one in base.usable_windows if one.partner == call and one.night > night]
    first = min(usable, key=lambda one: one.slot_start)
    then = morning_after.next_time(plan, base.usable_windows, call, night)
    assert isinstance(then, morning_after.NextTime)
    assert (then.start_utc, then.end_utc) == (first.slot_start, first.slot_end)
    # What another partner's slot takes is not offered; where all is taken nobody knows, where there is none it is said.
    taken = slot(
        base, "QZ5KAR", "A", 7, slot_start_utc=first.slot_start, slot_end_utc=first.slot_end, night=first.night
    )
    busy = with_slots(base, slot(base, call, "A", 5), taken)
    other = morning_after.next_time(busy, base.usable_windows, call, night)
    assert isinstance(other, morning_after.NextTime)
    assert other.start_utc > first.slot_start
    assert morning_after.next_time(busy, (first,), call, night) == "all taken"
    assert morning_after.next_time(busy, (), call, night) is None


def test_a_next_time_is_named_as_long_as_contacts_are_wanted(base: Plan) -> None:
    """Of two that are wanted one is made, by the log or by the record; then both are."""
    plan = with_slots(base, slot(base, CALL, "A", 6), slot(base, CALL, "B", 12))
    wishes = tuple(
        dataclasses.replace(one, contacts_wanted=2) if one.call == CALL else one for one in plan.inputs.wishes
    )
    plan = dataclasses.replace(plan, inputs=dataclasses.replace(plan.inputs, wishes=wishes))
    second = plan.slots[1]
    told = f"If you like another contact, the next time for it is: {second.start + dt.timedelta(hours=2):%a} 16 Mar"
    assert told in message(plan, ",,yes,")
    before = plan.slots[0].start - dt.timedelta(days=3)
    made = Answer(CALL, "X", before, before + dt.timedelta(hours=1), "confirmed", "QM7TOR", 1, None, "made")
    assert "time" not in message(with_record_of(plan, made), ",,yes,").partition("Thank you")[2]
    assert "The next time that we have in mind for you: " in message(with_record_of(plan, made), ",,no,")


def with_record_of(plan: Plan, *answers: Answer) -> Plan:
    return dataclasses.replace(plan, inputs=with_record(plan.inputs, answers))


@pytest.mark.parametrize(
    ("outcome", "told"), [("absent", "We did not meet."), ("rained", "The weather did not let us try.")]
)
def test_the_record_tells_what_no_log_does(plan: Plan, outcome: str, told: str) -> None:
    first = plan.slots[0]
    line = Answer(CALL, "A", first.start, first.end, "confirmed", "QM7TOR", 1, None, outcome)
    after = dataclasses.replace(plan, inputs=with_record(plan.inputs, (line,)))
    (note,), unknown = morning_after.notes_after(after, first.night, None)
    assert told in note.message
    assert unknown == ()


def test_the_mail_says_the_same_and_goes_nowhere(plan: Plan) -> None:
    (note,), _ = morning_after.notes_after(plan, NIGHT, log_of(plan, "-17,-19,yes,12:43"))
    assert note.mail is not None
    mail = opened(note.mail)
    assert mail["Subject"] == "Moon contact with QM7TOR, Wed 10 Mar 2027: thank you"
    text = body(mail, "plain")
    assert "We gave you \N{MINUS SIGN}17, you gave us \N{MINUS SIGN}19." in text
    for line in note.message.splitlines()[1:-2]:
        assert line in text.replace("\N{MINUS SIGN}", "-")
    assert [part.get_content_type() for part in mail.walk() if not part.is_multipart()] == ["text/plain", "text/html"]
    (chat,), _ = morning_after.notes_after(with_station(plan, CALL, email=None), NIGHT, log_of(plan, "-17,-19,yes,"))
    assert chat.mail is None


def test_without_a_zone_times_are_utc(plan: Plan) -> None:
    assert "3 cm: Wed 10 Mar 2027 12:30 to 13:30 UTC.\n" in message(with_station(plan, CALL, time_zone=None), ",,no,")


def test_without_a_sender_there_is_no_note(plan: Plan) -> None:
    with pytest.raises(NoSender):
        morning_after.notes_after(with_letters(plan, sender=None), NIGHT, None)


def test_the_command_prints_and_writes_what_the_log_tells(mutual_moon: Type, tmp_path: Path) -> None:
    shutil.copytree(SEASON_FILE.parent, tmp_path / "stations", ignore=shutil.ignore_patterns("record"))
    season = tmp_path / "stations" / "season.yaml"
    kept = [line for line in season.read_text("utf-8").splitlines() if "{call" not in line or "QF4LUM" in line]
    season.write_text("\n".join(kept) + "\n", "utf-8")
    assert mutual_moon("plan", "--no-pdf")[0] == 0
    (log,) = (tmp_path / "out" / "2027-03" / "nights").glob("*/log.csv")
    night = log.parent.name
    code, out, err = mutual_moon("letters", "--after", night)
    assert code == 3
    assert f"nobody has said how QF4LUM A went: fill in out/2027-03/nights/{night}/log.csv, or type" in err
    assert not (tmp_path / "out" / "2027-03" / "after").exists()
    lines = log.read_text("utf-8").splitlines()
    log.write_text(f"{lines[0]}\n{re.sub(',{5}$', ',-17,-19,yes,,', lines[1])}\n", "utf-8")
    code, out, err = mutual_moon("letters", "--after", night)
    folder = tmp_path / "out" / "2027-03" / "after" / night
    assert code == 0
    assert sorted(path.name for path in folder.iterdir()) == ["QF4LUM-A.eml", "QF4LUM-A.txt"]
    text = (folder / "QF4LUM-A.txt").read_text("utf-8")
    assert "We gave you -17, you gave us -19." in text
    assert text in out
    assert "nothing was sent" in out
    assert "newer than the calendar" not in err
    assert not (tmp_path / "stations" / "record").exists()
    code, _, err = mutual_moon("letters", "--after", "2027-03-02")
    assert (code, err.splitlines()[-1]) == (2, f"the night of 2027-03-02 has no slot; nights with slots: {night}")
    # What was measured in the night needs no new plan before the note of thanks.
    assert mutual_moon("measure", f"{night}T20:00Z", "ground", "5.8")[0] == 0
    code, again, err = mutual_moon("letters", "--after", night)
    assert (code, text in again) == (0, True)
    newer = "note: stations/record/measurements.csv is newer than the calendar; the notes go by it; next: "
    assert f"{newer}mutual-moon plan" in err
