"""Making the letters: hostile names, templates of one's own, the folder, the command, the same bytes."""

import csv
import dataclasses
import datetime as dt
import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
from email.parser import BytesParser
from email.policy import default
from pathlib import Path

import pytest

from pipeline.inputs.letter_keys import Sender
from pipeline.letters import making, outbox
from pipeline.letters.mail import digest_without_date
from pipeline.letters.outbox import with_date
from pipeline.letters.templates import TemplateFault, Templates
from pipeline.plan.plan import Plan
from pipeline.record.ledger import parse_ledger
from tests.conftest import Type
from tests.letters.letters_of import letter_text, made_for, with_letters, with_station
from tests.letters.readers import body, calendars, opened, tags_of_html, words, words_of_html
from tests.letters.stand_in import demo_letters, offer_of, quick_letters, slot, with_slots
from tests.plan.months import SEASON_FILE, month_plan

TWO = re.compile("QF4LUM|QT8NUI")


@pytest.fixture(scope="module")
def plan() -> Plan:
    return demo_letters()


@pytest.fixture(scope="module")
def made(plan: Plan) -> dict[str, making.Made]:
    return {"QF4LUM": made_for(plan, "QF4LUM")}


def test_the_digest_leaves_out_the_date_alone(made):
    about = json.loads(made["QF4LUM"].files["letter.json"])
    raw = made["QF4LUM"].files["letter.eml"]
    later = with_date(raw, "2027-02-01T10:00:00Z").replace(b"2027 10:00", b"2027\r\n 10:00", 1)
    assert later != raw
    assert digest_without_date(later) == digest_without_date(raw) == about["digest"]
    assert digest_without_date(raw.replace(b"To: Aino", b"To: Ainu")) != about["digest"]
    assert hashlib.sha256(raw).hexdigest() == about["digest"]


def test_a_mail_on_the_disk_has_no_date_and_one_as_it_leaves(made):
    """Read by the standard library's parser and by its mailbox: no defect, and exactly one date once it is sent."""
    raw = made["QF4LUM"].files["letter.eml"]
    drafted = BytesParser(policy=default).parsebytes(raw)
    assert drafted.get_all("Date") is None
    assert not drafted.defects
    sent = with_date(raw, "2027-02-01T10:00:00Z")
    left = BytesParser(policy=default).parsebytes(sent)
    assert left.get_all("Date") == ["Mon, 01 Feb 2027 10:00:00 +0000"]
    assert left["Message-ID"] == drafted["Message-ID"]
    # Sent twice it still has one: the later.
    assert with_date(sent, "2027-02-02T10:00:00Z").count(b"\r\nDate: ") + sent.startswith(b"Date: ") == 1


HOSTILE = [
    "Aino\r\nBcc: all@world.example",
    "<script>alert(1)</script><b>",
    "\N{RIGHT-TO-LEFT OVERRIDE}drawkcab\N{POP DIRECTIONAL FORMATTING}",
    "{sender.__class__}{operator}%s{{7*7}}{% raw %}",
    'Aino "Q" \\ ; , : Sarel',
    "\N{HEBREW LETTER ALEF}\N{HEBREW LETTER BET}\N{HEBREW LETTER GIMEL}",
    "Ægir Þórðarson, ŁŁ",
]


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_break_nothing(plan, name):
    hostile = with_letters(
        with_station(plan, "QF4LUM", operator=name),
        greeting="Dear {operator} {call.__class__} {0} " + name,
        closing=name,
        meet=name,
        sender=Sender(name, "ines@basalt-tor.example"),
    )
    made = made_for(hostile, "QF4LUM")
    message = opened(made.files["letter.eml"])
    assert message["Bcc"] is None
    assert [address.addr_spec for address in message["To"].addresses] == ["aino@lumme-fjord.example"]
    assert len(message["From"].addresses) == 1
    assert message["From"].addresses[0].addr_spec == "ines@basalt-tor.example"
    html, text = body(message, "html"), body(message, "plain")
    assert set(tags_of_html(html)) == set(
        tags_of_html(body(opened(made_for(plan, "QF4LUM").files["letter.eml"]), "html"))
    )
    assert words_of_html(html) == words(text)
    for shown in (html, text, made.files["message.txt"].decode()):
        assert not re.search("[\u202a-\u202e\u2066-\u2069\u200e\u200f]", shown)
        assert "class '" not in shown
        assert "49" not in re.findall(r"Dear .*", shown)[:1]
    assert "{call.__class__}" in text
    assert len(made.files["message.txt"].decode()) <= 600
    assert made.files["message.txt"].isascii()


def test_the_message_is_short_whatever_happens():
    base = month_plan()
    long = "Maximiliana Bartholomea von und zu Hohenschwanstein-Wittelsbach of the Lower Meadows " * 2
    plan = with_slots(base, *[slot(base, "QF4LUM", label, 1 + place) for place, label in enumerate("ABCDEFGHIJ")])
    plan = with_station(plan, "QF4LUM", operator=long[:180])
    text = made_for(plan, "QF4LUM").files["message.txt"].decode()
    assert len(text) <= 600
    assert "more slots: ask us" in text
    assert "Please answer by Sat 20 Feb 2027" in text
    assert "Plan " in text


def test_a_template_of_ones_own_is_used_in_a_sandbox(plan, tmp_path):
    own = tmp_path / "templates"
    own.mkdir()
    (own / "letter.txt.jinja").write_text("Moin {{ letter.call }}, {{ letter.slots | length }} slots\n", "utf-8")
    made = made_for(plan, "QF4LUM", templates=Templates(tmp_path))
    assert letter_text(made) == "Moin QF4LUM, 2 slots\n"


@pytest.mark.parametrize(
    ("template", "said"),
    [
        ("{{ letter.nothing }}", "letter.txt.jinja: line 1:"),
        ("\n{% for %}", "letter.txt.jinja: line 2:"),
        ("{{ letter.__class__.__mro__ }}", "letter.txt.jinja:"),
        ("{% include 'nowhere' %}", "nowhere"),
        ("{{ 1 / 0 }}", "division by zero"),
        (b"\xff\xfe", "letter.txt.jinja:"),
    ],
)
def test_a_fault_in_a_template_of_ones_own_is_one_sentence(plan, tmp_path, template, said):
    own = tmp_path / "templates"
    own.mkdir()
    (own / "letter.txt.jinja").write_bytes(template if isinstance(template, bytes) else template.encode())
    with pytest.raises(TemplateFault) as caught:
        made_for(plan, "QF4LUM", templates=Templates(tmp_path))
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_message_template_that_is_too_long_is_told(plan, tmp_path):
    own = tmp_path / "templates"
    own.mkdir()
    (own / "message.txt.jinja").write_text("x" * 700, "utf-8")
    with pytest.raises(TemplateFault, match="has 701 characters; at most 600"):
        made_for(plan, "QF4LUM", templates=Templates(tmp_path))


def test_the_folder_is_swapped_whole(plan, tmp_path):
    short = dataclasses.replace(
        plan, inputs=dataclasses.replace(plan.inputs, partners=plan.inputs.partners[:1], wishes=plan.inputs.wishes[:1])
    )
    short = dataclasses.replace(short, agenda=plan.agenda[plan.agenda["partner"] == "QF4LUM"])
    folder, _ = making.write_letters(short, tmp_path, with_pdf=False)
    assert folder == tmp_path / "2027-03" / "letters"
    (folder / "QN1PIK").mkdir()
    making.write_letters(short, tmp_path, with_pdf=False)
    assert sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*")) == [
        "QF4LUM", "QF4LUM/letter.eml", "QF4LUM/letter.json", "QF4LUM/message.txt", "QF4LUM/windows.ics", "agenda.ics",
    ]  # fmt: skip
    nobody = with_letters(short, sender=None)
    with pytest.raises(making.NoSender, match=r"season.yaml: letters.sender is missing"):
        making.write_letters(nobody, tmp_path, with_pdf=False)
    assert (folder / "agenda.ics").is_file()


SAME = """
import hashlib, sys
from tests.conftest import Type
from tests.letters.letters_of import made_for
from tests.letters.stand_in import quick_letters
plan = quick_letters()
station = plan.inputs.partners[0]
made = made_for(plan, station.call, with_pdf=True)
for name, content in made.files.items():
    print(name, hashlib.sha256(content).hexdigest())
"""


@pytest.mark.slow
def test_the_same_inputs_give_the_same_bytes():
    here = made_for(quick_letters(), "QF4LUM", with_pdf=True).files
    expected = "".join(f"{name} {hashlib.sha256(content).hexdigest()}\n" for name, content in here.items())
    root = Path(__file__).parents[2]
    environment = os.environ | {"PYTHONHASHSEED": "7", "TZ": "Asia/Kathmandu", "LC_ALL": "C", "PYTHONPATH": str(root)}
    run = subprocess.run(
        [sys.executable, "-c", SAME],
        cwd=root,
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert run.stdout == expected, run.stderr[-2000:]


def test_attachments_are_the_files_beside_the_letter(plan):
    made = making.partner_files(plan.for_partner(plan.inputs.partners[0].call), Templates(), b"%PDF-1.7 as if")
    message = opened(made.files["letter.eml"])
    attached = {part.get_filename(): part for part in message.iter_attachments()}
    assert list(attached) == ["windows.pdf", "slot-A.ics", "slot-B.ics"]
    assert attached["windows.pdf"].get_content() == made.files["windows.pdf"]
    assert len(calendars(message, attached=False)) == 1


def test_what_the_partner_knows_already_is_no_other_content(plan):
    """Neither another plan number nor the changes of the letter before are a reason to send a letter again."""

    def digests(some: Plan) -> tuple[str, str]:
        about = json.loads(made_for(some, "QF4LUM").files["letter.json"])
        return about["digest"], about["content_digest"]

    here, again = digests(plan), digests(dataclasses.replace(plan, number="ZZZZ"))
    assert here[0] != again[0]
    assert here[1] == again[1]
    base = month_plan()
    row, before = slot(base, "QF4LUM", "A", 6), slot(base, "QF4LUM", "A", 7)
    moved = digests(with_slots(base, row, offers=[offer_of(before)]))
    sent = digests(with_slots(base, row, offers=[offer_of(row, 1)]))
    assert moved[0] != sent[0]
    assert moved[1] == sent[1]
    assert moved[1] != digests(with_slots(base, before, offers=[offer_of(before)]))[1]


def test_who_is_not_wanted_is_not_written_to(plan):
    wishes = tuple(
        dataclasses.replace(wish, contacts_wanted=0) if wish.call in ("QK3RED", "QF4LUM") else wish
        for wish in plan.inputs.wishes
    )
    fewer = dataclasses.replace(plan, inputs=dataclasses.replace(plan.inputs, wishes=wishes))
    calls = [view.call for view in making.addressed(fewer)]
    assert "QK3RED" not in calls
    # A slot that is in the agenda is told whatever is wanted now.
    assert "QF4LUM" in calls


def test_who_left_the_season_is_named(plan):
    gone = slot(plan, "QF4LUM", "B", 12) | {"partner": "QA1LAV"}
    left = with_slots(month_plan(), withdrawn=[gone])
    assert making.left_behind(left) == ("QA1LAV B",)
    assert making.left_behind(plan) == ()


@pytest.mark.slow
def test_a_page_of_ones_own_that_lost_its_heading_is_told(plan, tmp_path):
    own = tmp_path / "templates"
    own.mkdir()
    (own / "windows.html.jinja").write_text("<html lang=en><title>x</title><p>nothing</p></html>", "utf-8")
    with pytest.raises(TemplateFault, match=r"windows.html.jinja: the last bookmark should be"):
        made_for(plan, "QF4LUM", with_pdf=True, templates=Templates(tmp_path))


@pytest.fixture
def typed(mutual_moon: Type, tmp_path: Path) -> Type:
    """Types a command in a folder with the demo's stations."""
    shutil.copytree(SEASON_FILE.parent, tmp_path / "stations", ignore=shutil.ignore_patterns("record"))
    season = tmp_path / "stations" / "season.yaml"
    # Two partners are enough here, one of them without a mail address.
    kept = [line for line in season.read_text("utf-8").splitlines() if "{call" not in line or TWO.search(line)]
    season.write_text("\n".join(kept) + "\n", "utf-8")
    return mutual_moon


def test_the_command_needs_a_plan_of_these_inputs_and_a_sender(typed: Type, tmp_path: Path):
    code, _, said = typed("letters", "--no-pdf")
    assert (code, said) == (2, "there is no plan in out/2027-03 yet; run: mutual-moon plan\n")
    season = tmp_path / "stations" / "season.yaml"
    whole = season.read_text("utf-8")
    season.write_text(whole[: whole.index("letters:")], "utf-8")
    # Who signs is else the operator of home's own file.
    home = tmp_path / "stations" / "qm7tor.yaml"
    home.write_text(home.read_text("utf-8").replace("email: ines@basalt-tor.example\n", ""), "utf-8")
    code, _, said = typed("letters", "--no-pdf")
    assert code == 2
    assert said.startswith("season.yaml: letters.sender is missing; ")
    assert said.count("\n") == 1
    assert not (tmp_path / "out").exists()


def test_the_command_makes_what_send_can_send_once(typed: Type, tmp_path: Path):
    assert typed("plan", "--no-pdf")[0] == 0
    code, out, _ = typed("letters", "--no-pdf")
    assert code == 0
    assert re.search(r"^QF4LUM  1 slot   letter$", out, re.MULTILINE)
    assert "No mail address: QT8NUI; paste message.txt into a chat" in out
    assert out.rstrip().endswith("mutual-moon send")
    letters = tmp_path / "out" / "2027-03" / "letters"
    number = json.loads((tmp_path / "out" / "2027-03" / "data" / "run.json").read_bytes())["plan_number"]
    turn = outbox.turn_of(letters, "QF4LUM", "2027-03", number, parse_ledger(b""))
    assert turn.state == outbox.READY
    assert outbox.turn_of(letters, "QT8NUI", "2027-03", number, parse_ledger(b"")).state == outbox.NO_ADDRESS
    with (tmp_path / "out" / "2027-03" / "data" / "agenda.csv").open(encoding="utf-8", newline="") as stream:
        rows = {row["partner"]: row for row in csv.DictReader(stream)}
    (sent,) = turn.parcels
    # The random part of an identifier was drawn by `letters`: the plan before it could not tell, the next one can.
    assert rows["QF4LUM"]["uid"] == ""
    assert re.search(r"-3cm-2027-03-a-[0-9a-f]{16}@mutual-moon\.invalid$", sent.slots[0].uid)
    assert sent.slots[0].start_utc == dt.datetime.fromisoformat(rows["QF4LUM"]["slot_start_utc"])
    # Once it is in the ledger the next letter is the same to the byte, and nothing goes out twice.
    about = json.loads((letters / "QF4LUM" / "letter.json").read_bytes())
    told = {"to": sent.to, "subject": sent.subject, "kind": sent.kind, "digest": sent.digest, "partner": "QF4LUM"}
    told |= {"slots": about["slots"], "withdrawn": about["withdrawn"]}
    begun = told | {"event": "sending", "stamp": "2027-02-01T10:00:00Z", "message_id": sent.message_id}
    ended = {"event": "sent", "stamp": "2027-02-01T10:00:02Z", "message_id": sent.message_id, "words": "250 ok"}
    record = tmp_path / "stations" / "record"
    record.mkdir(exist_ok=True)
    lines = [json.dumps(entry | {"period": "2027-03"}) + "\n" for entry in (begun, ended)]
    (record / "sent.jsonl").write_text("".join(lines), "utf-8")
    before = (letters / "QF4LUM" / "letter.eml").read_bytes()
    assert typed("letters", "--no-pdf")[0] == 0
    assert (letters / "QF4LUM" / "letter.eml").read_bytes() == before
    ledger = parse_ledger((record / "sent.jsonl").read_bytes())
    assert outbox.turn_of(letters, "QF4LUM", "2027-03", number, ledger).state == outbox.NOTHING_NEW


def test_with_the_key_in_the_record_the_same_inputs_give_the_same_bytes(typed: Type, tmp_path: Path):
    """`plan` draws nothing, `letters` once: from then on both give the same files, also made anew from nothing."""
    key = tmp_path / "stations" / "record" / "uid_key.txt"
    assert typed("plan", "--no-pdf")[0] == 0
    assert not key.exists()
    assert typed("letters", "--no-pdf")[0] == 0
    drawn = key.read_bytes()
    out = tmp_path / "out"
    number = json.loads((out / "2027-03" / "data" / "run.json").read_bytes())["plan_number"]
    assert typed("plan", "--no-pdf")[0] == 0
    assert json.loads((out / "2027-03" / "data" / "run.json").read_bytes())["plan_number"] == number
    assert typed("letters", "--no-pdf")[0] == 0
    first = {path.relative_to(out): path.read_bytes() for path in out.rglob("*") if path.is_file()}
    with (out / "2027-03" / "data" / "agenda.csv").open(encoding="utf-8", newline="") as stream:
        uids = {row["partner"]: row["uid"] for row in csv.DictReader(stream)}
    about = json.loads((out / "2027-03" / "letters" / "QF4LUM" / "letter.json").read_bytes())
    assert [slot["uid"] for slot in about["slots"]] == [uids["QF4LUM"]]
    shutil.rmtree(out)
    assert typed("plan", "--no-pdf")[0] == 0
    assert typed("letters", "--no-pdf")[0] == 0
    assert {path.relative_to(out): path.read_bytes() for path in out.rglob("*") if path.is_file()} == first
    assert key.read_bytes() == drawn
