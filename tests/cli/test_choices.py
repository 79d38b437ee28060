"""Several times for a slot, with the commands: plan, letter, an answer that takes another time, plan and letter anew.

The calendar's side is RFC 5545 (3.8.7.4) and RFC 5546 (3.2.2.1): the same UID, a higher SEQUENCE, the new time.
"""

from __future__ import annotations

import csv
import datetime as dt
import email
import email.policy
import json
import re
import shutil
from pathlib import Path

import icalendar
import pytest

from pipeline.record.inputs import read_inputs
from pipeline.record.ledger_writing import LedgerWriter
from tests.conftest import Type

pytestmark = pytest.mark.usefixtures("plans_made_once")

STATIONS = Path(__file__).resolve().parents[2] / "stations"
PARTNERS = ("QZ5KAR", "QG8FEN", "QT8NUI")
PERIOD = "2027-03-05_2027-03-20"
OUT = Path("out") / PERIOD


def lay_out(folder: Path) -> None:
    """A season that leaves room for choices."""
    stations = folder / "stations"
    stations.mkdir()
    for call in ("QM7TOR", *PARTNERS):
        shutil.copy(STATIONS / f"{call.lower()}.yaml", stations)
    text = (STATIONS / "season.yaml").read_text("utf-8")
    text = re.sub(r"months: .*", "dates: 2027-03-05/2027-03-20", text).replace(
        "policy:", "policy:\n  step_minutes: 30\n"
    )
    kept = [line for line in text.splitlines() if "{call:" not in line or any(call in line for call in PARTNERS)]
    (stations / "season.yaml").write_text("\n".join(kept) + "\n", "utf-8")


@pytest.fixture
def moon(tmp_path: Path, mutual_moon: Type) -> Type:
    """The commands, in a folder with that season."""
    lay_out(tmp_path)
    return mutual_moon


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with that season, to be planned and written to once."""
    return tmp_path_factory.mktemp("made")


@pytest.fixture
def made_and_sent(made: Path, tmp_path: Path, mutual_moon: Type) -> dict[str, str]:
    """Plan and letters; the other time of a partner that has one and mail, its letter sent."""
    if not any(made.iterdir()):
        lay_out(tmp_path)
        assert mutual_moon("plan", "--no-pdf")[0] == 0
        assert mutual_moon("letters", "--no-pdf")[0] == 0
        shutil.copytree(tmp_path, made, dirs_exist_ok=True)
    else:
        shutil.copytree(made, tmp_path, dirs_exist_ok=True)
    other = next(row for row in table("alternatives") if (OUT / "letters" / row["partner"] / "letter.eml").is_file())
    sent(other["partner"])
    return other


def table(name: str) -> list[dict[str, str]]:
    with (OUT / "data" / f"{name}.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def instant(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text)


def sent(call: str) -> None:
    """The partner's letter into the ledger, as `send` does it."""
    about = json.loads((OUT / "letters" / call / "letter.json").read_text("utf-8"))
    entry = {"partner": call, "to": about["to"], "subject": about["subject"], "kind": about["kind"], "period": PERIOD}
    entry |= {"digest": about["content_digest"], "slots": about["slots"], "withdrawn": about["withdrawn"]}
    Path("stations/record").mkdir(exist_ok=True)
    ledger, now = LedgerWriter(Path("stations")), dt.datetime(2027, 1, 10, tzinfo=dt.UTC)
    ledger.begin(now, f"<{about['content_digest']}@x>", entry)
    ledger.end(now, f"<{about['content_digest']}@x>", "sent")


def letter(call: str) -> tuple[str, list[icalendar.Event]]:
    message = email.message_from_bytes(
        (OUT / "letters" / call / "letter.eml").read_bytes(), policy=email.policy.default
    )
    text = message.get_body(("plain",)).get_content().replace("\r\n", "\n").replace("\N{NO-BREAK SPACE}", " ")
    parts = [part for part in message.walk() if part.get_content_type() == "text/calendar"]
    events = [icalendar.Calendar.from_ical(part.get_payload(decode=True)).walk("VEVENT")[0] for part in parts]
    return text, list({str(event["UID"]): event for event in events}.values())


def test_a_letter_names_them_and_the_answer_settles_the_slot(mutual_moon: Type, made_and_sent: dict[str, str]) -> None:
    moon, other = mutual_moon, made_and_sent
    call, label, own = other["partner"], other["label"], other["instead_of"]
    text, (first,) = letter(call)
    start, end = instant(other["slot_start_utc"]), instant(other["slot_end_utc"])
    assert f"Or {label}\n" in text
    assert f"Please choose: {own} or {label}." in text
    assert f"If you choose {label}: From start to end: azimuth" in text
    assert f"{start:%H:%M} to {end:%H:%M}" in text
    chat = (OUT / "letters" / call / "message.txt").read_text("utf-8")
    assert len(chat) <= 600
    assert f"\nor {label}: " in chat
    assert f"{own} or {label}?" in chat
    page = (OUT / "calendar" / "calendar.html").read_text("utf-8")
    assert f"or {label}, " in page
    # The invitation holds the first time.
    (slot,) = [row for row in table("agenda") if (row["partner"], row["label"]) == (call, own)]
    assert first["DTSTART"].dt == instant(slot["slot_start_utc"])

    code, out, err = moon("answer", call, f"{label}=yes")
    assert (code, err) == (0, "")
    assert f"{call} {own}  {start:%Y-%m-%d %H:%M} to {end:%H:%M} UTC: confirmed\n" in out
    assert f"{call} chose {label}: slot {own} moves there" in out
    assert moon("plan", "--no-pdf")[0] == 0
    (slot,) = [row for row in table("agenda") if (row["partner"], row["label"]) == (call, own)]
    assert (instant(slot["slot_start_utc"]), slot["state"]) == (start, "confirmed")
    assert not [row for row in table("alternatives") if row["partner"] == call and row["instead_of"] == own]
    assert moon("letters", "--no-pdf")[0] == 0
    text, (moved,) = letter(call)
    assert f"You chose {label}. Slot {own} is now: " in text
    assert "changed times" not in text
    assert "or " + label not in (OUT / "letters" / call / "message.txt").read_text("utf-8")
    assert moved["UID"] == first["UID"]
    assert moved["SEQUENCE"] == first["SEQUENCE"] + 1
    assert (moved["DTSTART"].dt, moved["DTEND"].dt) == (start, end)
    assert str(moved["STATUS"]) == "CONFIRMED"
    assert not list((OUT / "letters" / call).glob("withdrawal*"))
    # Told once: after it is sent, the same letter says nothing new.
    sent(call)
    assert moon("letters", "--no-pdf")[0] == 0
    assert "You chose" not in letter(call)[0]
    # How it went is said by either letter.
    assert moon("answer", call, f"{label}=made")[0] == 0
    assert {one.outcome for one in read_inputs(Path("stations/season.yaml")).record.answers} == {"made"}


def without_uids(name: str) -> list[dict[str, str]]:
    """A table without identifiers: they are known once letters are made."""
    return [{key: value for key, value in row.items() if key != "uid"} for row in table(name)]


def test_sending_changes_no_time_and_the_ledger_knows_them_for_later(
    mutual_moon: Type, made_and_sent: dict[str, str]
) -> None:
    moon, other = mutual_moon, made_and_sent
    before = {name: without_uids(name) for name in ("agenda", "alternatives")}
    assert moon("plan", "--no-pdf")[0] == 0
    assert {name: without_uids(name) for name in before} == before
    # What the first letters drew is in the plan from now on.
    assert all(row["uid"] for row in table("agenda"))
    # A plan without choices names it no longer, and the answer to the old letter is understood all the same.
    season = Path("stations/season.yaml")
    season.write_text(season.read_text("utf-8").replace("  reply_by:", "  choices: 1\n  reply_by:"), "utf-8")
    assert moon("plan", "--no-pdf")[0] == 0
    assert table("alternatives") == []
    assert moon("letters", "--no-pdf")[0] == 0
    assert f"No longer free: {other['label']}." in letter(other["partner"])[0]
    sent(other["partner"])
    code, out, _ = moon("answer", other["partner"], f"{other['label']}=yes")
    assert code == 0
    assert f"{instant(other['slot_start_utc']):%Y-%m-%d %H:%M} to" in out


def test_a_no_to_the_first_and_a_yes_to_another(mutual_moon: Type, made_and_sent: dict[str, str]) -> None:
    moon, other = mutual_moon, made_and_sent
    call, label, own = other["partner"], other["label"], other["instead_of"]
    assert moon("answer", call, f"{own}=no", f"{label}=yes")[0] == 0
    lines = read_inputs(Path("stations/season.yaml")).record.answers
    assert {(one.label, one.state) for one in lines} == {("", "declined"), (own, "confirmed")}
    confirmed = next(one for one in lines if one.state == "confirmed")
    assert confirmed.start_utc == instant(other["slot_start_utc"])


def test_a_no_to_another_time_leaves_the_slot_open(mutual_moon: Type, made_and_sent: dict[str, str]) -> None:
    moon, other = mutual_moon, made_and_sent
    call, label = other["partner"], other["label"]
    assert moon("answer", call, f"{label}=no")[0] == 0
    (line,) = read_inputs(Path("stations/season.yaml")).record.answers
    assert (line.label, line.state, line.start_utc) == ("", "declined", instant(other["slot_start_utc"]))
    before = [row for row in table("agenda") if row["partner"] == call]
    assert moon("plan", "--no-pdf")[0] == 0
    after = [row for row in table("agenda") if row["partner"] == call]
    assert [(row["slot_start_utc"], row["state"]) for row in after] == [
        (row["slot_start_utc"], row["state"]) for row in before
    ]
    assert not [row for row in table("alternatives") if row["partner"] == call and row["label"] == label]


def test_what_cannot_be_is_told_and_changes_nothing(mutual_moon: Type, made_and_sent: dict[str, str]) -> None:
    moon, other = mutual_moon, made_and_sent
    call, label, own = other["partner"], other["label"], other["instead_of"]
    code, _, err = moon("answer", call, f"{own}=yes", f"{label}=yes")
    assert (code, err) == (2, f"{label}=yes: {own} and {label} are two times for slot {own}; keep one yes.\n")
    for word in ("perhaps", "made"):
        code, _, err = moon("answer", call, f"{label}={word}")
        assert (code, err) == (2, f"{label}={word}: {label} is another time for slot {own}; yes or no is meant.\n")
    # Somebody else holds it by now, set by hand.
    taker = next(one for one in PARTNERS if one != call)
    start = instant(other["slot_start_utc"])
    line = f"  - {{partner: {taker}, label: F, start: {start:%Y-%m-%dT%H:%M}Z, state: fixed}}\n"
    record = Path("stations/record/agenda.yaml")
    record.write_text("slots:\n" + line, "utf-8")
    code, _, err = moon("answer", call, f"{label}=yes")
    assert code == 2
    assert f"{label}=yes: {start:%Y-%m-%dT%H:%M}Z is no longer free, {taker} F has " in err
    assert record.read_text("utf-8") == "slots:\n" + line
    # The plan gives it away no more either.
    assert moon("plan", "--no-pdf")[0] == 0
    assert not [row for row in table("alternatives") if (row["partner"], row["label"]) == (call, label)]
