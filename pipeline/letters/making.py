"""Makes the whole `letters` folder of a period: a folder a partner, and home's own calendar; swapped whole.

Nothing is read from the clock, so that the same inputs give the same bytes; nothing is written before all is made.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.inputs.atomic_writing import write_file
from pipeline.inputs.dates_said import months_before
from pipeline.inputs.zone_of_place import zone_of
from pipeline.letters.building import build_letter, names_a_place, told_slots, with_wording_told
from pipeline.letters.chat import chat_message
from pipeline.letters.document import Letter, content_digest
from pipeline.letters.invitations import agenda_calendar, invitation, stamped, window_calendar, withdrawal
from pipeline.letters.mail import CalendarPart, Parts, Person, digest_without_date, mail_bytes
from pipeline.letters.offers import OfferedSlot, withdrawn_slots
from pipeline.letters.outbox import folder_name
from pipeline.letters.question_words import answer_example
from pipeline.letters.templates import LETTER_HTML, LETTER_TEXT, Templates
from pipeline.letters.two_languages import english_view, in_both
from pipeline.letters.windows_page import windows_document, windows_pdfs
from pipeline.letters.withdrawing import withdrawal_letter
from pipeline.reports.locking import only_run_in
from pipeline.reports.rendering import Document, note_rendered
from pipeline.reports.writing import repair_period, swapped_folder
from pipeline.windows.frames import records
from pipeline.windows.instants import as_instant
from pipeline.wording import formats
from pipeline.wording.speech import speech_for
from pipeline.wording.words import one_line, person

if TYPE_CHECKING:
    from pipeline.inputs.model import Season
    from pipeline.plan.plan import Plan
    from pipeline.plan.views import PartnerView

FOLDER = "letters"
FIRST, UPDATE, WITHDRAWAL = "first", "update", "withdrawal"


class NoSender(RuntimeError):
    """The season names nobody who signs; the text is one sentence."""


@dataclass(frozen=True)
class Made:
    """What was made for one partner. `kind` is that of its letter; `files` are names in its folder.

    `asks` is how the answer to its one question is typed, `asks_zone` how its time zone is, by its place for instance;
    both are empty where nothing is asked.
    """

    call: str
    kind: str
    slots: tuple[OfferedSlot, ...]
    withdrawn: tuple[OfferedSlot, ...]
    has_email: bool
    files: dict[str, bytes]
    asks: str = ""
    asks_zone: str = ""


def require_sender(season: Season) -> None:
    """Raises NoSender where neither the season nor home's file names one."""
    if season.letters.sender is None:
        file = Path(season.file or "season.yaml").name
        raise NoSender(
            f"{file}: letters.sender is missing; letters need a name and a mail address: operator and email in your "
            "station's file, or `letters: {sender: {name: Ines Calder, email: ines@basalt-tor.example}}`."
        )


def partner_files(view: PartnerView, templates: Templates, page: bytes | None) -> Made:
    """Everything for one partner, in memory; `page` is its `windows.pdf`, None where no PDF is wanted."""
    station, slots, withdrawn = view.station, told_slots(view), withdrawn_slots(view)
    letter = in_both(view, lambda one: build_letter(one, page is not None))
    letter = with_wording_told(letter, slots, speech_for(station))
    slots = tuple(stamped(view, letter, slot) for slot in slots)
    kind = UPDATE if letter.changes else FIRST
    files: dict[str, bytes] = {"message.txt": chat_message(view, templates).encode()}
    other = english_view(view)
    if other is not None:
        files["message_en.txt"] = chat_message(other, templates).encode()
    if not view.is_wanted:
        told_here = () if station.email else withdrawn
        files["letter.json"] = _summary(view, letter, b"", kind, (), told_here)
        files |= _withdrawal(view, letter, withdrawn, has_letter=False) if station.email else {}
        return Made(station.call, WITHDRAWAL, (), withdrawn, bool(station.email), dict(sorted(files.items())))
    if page is not None:
        files["windows.pdf"] = page
    windows = window_calendar(view)
    if windows is not None:
        files["windows.ics"] = windows
    if not station.email:
        files["letter.json"] = _summary(view, letter, b"", kind, slots, withdrawn)
    else:
        files |= _mails(view, letter, templates, kind, slots, withdrawn, files.get("windows.pdf"))
    asks = answer_example(view) if slots or len(view.windows) else ""
    place = station.position
    zone = "" if station.time_zone else f"time_zone={zone_of(place.latitude_deg, place.longitude_deg)}"
    return Made(station.call, kind, slots, withdrawn, bool(station.email), dict(sorted(files.items())), asks, zone)


def _mails(
    view: PartnerView,
    letter: Letter,
    templates: Templates,
    kind: str,
    slots: tuple[OfferedSlot, ...],
    withdrawn: tuple[OfferedSlot, ...],
    pdf: bytes | None,
) -> dict[str, bytes]:
    """The letter and, where slots are withdrawn, the mail that takes them out of the partner's calendar."""
    text = templates.render(LETTER_TEXT, letter=letter)
    html = templates.render(LETTER_HTML, letter=letter)
    # The first slot that waits for an answer is the one that mail programs show with buttons.
    ordered = sorted(slots, key=lambda slot: slot.is_confirmed)
    calendars = [CalendarPart(f"slot-{slot.label}.ics", "REQUEST", invitation(view, letter, slot)) for slot in ordered]
    attached = [("windows.pdf", "application/pdf", pdf)] if pdf is not None else []
    mail = mail_bytes(
        Parts(
            sender=_sender(view),
            recipient=Person(person(view.station), view.station.email or ""),
            subject=letter.subject,
            text=text,
            html=html,
            calendars=calendars,
            files=attached,
        )
    )
    files = {"letter.eml": mail, "letter.json": _summary(view, letter, mail, kind, slots, ())}
    if withdrawn:
        files |= _withdrawal(view, letter, withdrawn, has_letter=True)
    return files


def _withdrawal(
    view: PartnerView, letter: Letter, withdrawn: tuple[OfferedSlot, ...], has_letter: bool
) -> dict[str, bytes]:
    """A mail of its own: one mail carries one method, and a program that reads it removes the event."""
    short = in_both(view, lambda one: withdrawal_letter(one, build_letter(one), withdrawn, has_letter))
    # Always our own template: one of the user's own is written for a letter with slots.
    templates = Templates()
    calendars = [
        CalendarPart(f"slot-{slot.label}-withdrawn.ics", "CANCEL", withdrawal(view, slot)) for slot in withdrawn
    ]
    mail = mail_bytes(
        Parts(
            sender=_sender(view),
            recipient=Person(person(view.station), view.station.email or ""),
            subject=short.subject,
            text=templates.render(LETTER_TEXT, letter=short),
            html=templates.render(LETTER_HTML, letter=short),
            calendars=calendars,
            files=[],
        )
    )
    return {
        "withdrawal.eml": mail,
        "withdrawal.json": _summary(view, short, mail, WITHDRAWAL, (), withdrawn),
    }


def _sender(view: PartnerView) -> Person:
    sender = view.letters.sender
    assert sender is not None
    return Person(sender.name, sender.email)


def _summary(
    view: PartnerView,
    letter: Letter,
    mail: bytes,
    kind: str,
    slots: tuple[OfferedSlot, ...],
    withdrawn: tuple[OfferedSlot, ...],
) -> bytes:
    """What `send` needs to know of a mail without reading it."""
    # By hand all goes in one message, and a withdrawal that was told is no part of the next.
    own = withdrawn if mail else ()
    content = {
        "plan": view.number,
        "partner": view.call,
        "to": one_line(view.station.email or ""),
        "subject": one_line(letter.subject),
        "digest": digest_without_date(mail) if mail else "",
        "content_digest": content_digest(letter, [slot.offer for slot in (*slots, *own)]),
        "kind": kind,
        "slots": [slot.entry for slot in slots],
        "withdrawn": [slot.entry for slot in withdrawn],
    }
    return (json.dumps(content, indent=1, ensure_ascii=False) + "\n").encode()


def addressed(plan: Plan) -> list[PartnerView]:
    """The partners who are written to: not those of whom no contact is wanted, unless something is agreed or undone."""
    views = [plan.for_partner(station.call) for station in plan.inputs.partners]
    return [view for view in views if view.is_wanted or withdrawn_slots(view)]


def left_behind(plan: Plan) -> tuple[str, ...]:
    """`QF4LUM A`: slots offered to someone who is no partner any more, whom no letter reaches."""
    calls = {station.call for station in plan.inputs.partners}
    return tuple(f"{row['partner']} {row['label']}" for row in records(plan.withdrawn) if row["partner"] not in calls)


def late_answers(plan: Plan, today: dt.date) -> tuple[str, ...]:
    """What is odd about the day by which the letters ask for an answer: a letter itself knows no clock."""
    reply_by = plan.inputs.season.letters.reply_by
    if reply_by is None or not len(plan.ahead):
        return ()
    if reply_by < today:
        return (f"the letters ask for an answer by {reply_by}, which is past; change letters.reply_by",)
    first = as_instant(plan.ahead["slot_start_utc"].min()).date()
    if reply_by >= first:
        key = f"{plan.inputs.season.file}: letters.reply_by is {reply_by}, and the first slot is on {first}"
        return (f"{key}; answers are of use before it, by {months_before(reply_by, first)} for instance",)
    return ()


def no_meeting_place(plan: Plan) -> tuple[str, ...]:
    """That the season names no place to meet at: then each letter says so and asks, and the chat message is silent."""
    if names_a_place(plan.inputs.season.letters):
        return ()
    file = Path(plan.inputs.season.file or "season.yaml").name
    return (
        f"{file} names no place to meet during a slot, and the letters say so; "
        'write for instance `letters: {meet: "telephone +00 000 000 000"}`',
    )


def page_path(call: str) -> str:
    """Where a partner's page stands in the folder of the period."""
    return f"{FOLDER}/{folder_name(call)}/windows.pdf"


def page_documents(views: list[PartnerView], templates: Templates) -> dict[str, Document]:
    """The page of each partner who is asked for something, by its path."""
    return {
        page_path(view.call): windows_document(view, in_both(view, build_letter), templates)
        for view in views
        if view.is_wanted
    }


def write_letters(
    plan: Plan,
    out_folder: Path,
    season_folder: Path | None = None,
    with_pdf: bool = True,
    progress: Callable[[str], None] | None = None,
) -> tuple[Path, tuple[Made, ...]]:
    """The `letters` folder of the plan's period and what was made for each partner.

    Raises NoSender, TemplateFault, PdfUnavailable and OutputBlocked, each with one sentence; then nothing has changed.
    """
    require_sender(plan.inputs.season)
    templates = Templates(season_folder)
    tell = progress or (lambda _: None)
    views = addressed(plan)
    period = out_folder / plan.period.name
    folder = period / FOLDER
    tell(f"Pages of {formats.count(len(views), 'partner')}")
    documents = page_documents(views, templates) if with_pdf else {}
    with only_run_in(out_folder):
        repair_period(period)
        pages = windows_pdfs(documents, period, templates, tell)
        tell("Letters and invitations")
        made = [partner_files(view, templates, pages.get(page_path(view.call))) for view in views]
        agenda = agenda_calendar(plan)
        with swapped_folder(folder) as new:
            for one in made:
                own = new / folder_name(one.call)
                own.mkdir()
                for name, content in one.files.items():
                    write_file(own / name, content)
            if agenda is not None:
                write_file(new / "agenda.ics", agenda)
        note_rendered(documents, pages, period)
    return folder, tuple(made)
