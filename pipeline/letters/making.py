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

from pipeline.letters.building import build_letter, is_wanted, with_wording_told, withdrawal_letter
from pipeline.letters.chat import chat_message
from pipeline.letters.document import Letter, content_digest
from pipeline.letters.invitations import agenda_calendar, invitation, stamp_of, window_calendar, withdrawal
from pipeline.letters.mail import CalendarPart, Parts, Person, digest_without_date, mail_bytes
from pipeline.letters.offers import Slot, slots_of, withdrawn_of
from pipeline.letters.templates import LETTER_HTML, LETTER_TEXT, Templates
from pipeline.letters.windows_page import windows_document, windows_pdfs
from pipeline.record.atomic_writing import write_file
from pipeline.reports.locking import only_run_in
from pipeline.reports.rendering import Document, note_rendered
from pipeline.reports.views import partner_bands
from pipeline.reports.writing import repair_period, swapped_folder
from pipeline.windows.frames import records
from pipeline.windows.instants import as_instant
from pipeline.wording import formats
from pipeline.wording.words import one_line, person

if TYPE_CHECKING:
    from pipeline.inputs.model import Season, Station
    from pipeline.plan.plan import Plan

FOLDER = "letters"
FIRST, UPDATE, WITHDRAWAL = "first", "update", "withdrawal"


class NoSender(RuntimeError):
    """The season names nobody who signs; the text is one sentence."""


@dataclass(frozen=True)
class Made:
    """What was made for one partner. `kind` is that of its letter; `files` are names in its folder."""

    call: str
    kind: str
    slots: tuple[Slot, ...]
    withdrawn: tuple[Slot, ...]
    has_email: bool
    files: dict[str, bytes]


def require_sender(season: Season) -> None:
    """Raises NoSender where the season names none."""
    if season.letters.sender is None:
        file = Path(season.file or "season.yaml").name
        raise NoSender(
            f"{file}: letters.sender is missing; letters need a name and a mail address, for instance "
            "`letters: {sender: {name: Ines Calder, email: ines@basalt-tor.example}}`."
        )


def partner_files(plan: Plan, station: Station, templates: Templates, page: bytes | None) -> Made:
    """Everything for one partner, in memory; `page` is its `windows.pdf`, None where no PDF is wanted."""
    slots, withdrawn = slots_of(plan, station.call), withdrawn_of(plan, station.call)
    letter = with_wording_told(build_letter(plan, station.call, page is not None), slots)
    kind = UPDATE if letter.changes else FIRST
    files: dict[str, bytes] = {"message.txt": chat_message(plan, station.call, templates).encode()}
    if not is_wanted(plan, station):
        files["letter.json"] = _summary(plan, station, letter, b"", kind, (), ())
        files |= _withdrawal(plan, station, letter, withdrawn, has_letter=False) if station.email else {}
        return Made(station.call, WITHDRAWAL, (), withdrawn, bool(station.email), dict(sorted(files.items())))
    if page is not None:
        files["windows.pdf"] = page
    windows = window_calendar(plan, station, partner_bands(plan)[station.call])
    if windows is not None:
        files["windows.ics"] = windows
    if not station.email:
        files["letter.json"] = _summary(plan, station, letter, b"", kind, slots, withdrawn)
    else:
        files |= _mails(plan, station, letter, templates, kind, slots, withdrawn, files.get("windows.pdf"))
    return Made(station.call, kind, slots, withdrawn, bool(station.email), dict(sorted(files.items())))


def _mails(
    plan: Plan,
    station: Station,
    letter: Letter,
    templates: Templates,
    kind: str,
    slots: tuple[Slot, ...],
    withdrawn: tuple[Slot, ...],
    pdf: bytes | None,
) -> dict[str, bytes]:
    """The letter and, where slots are withdrawn, the mail that takes them out of the partner's calendar."""
    text = templates.render(LETTER_TEXT, letter=letter)
    html = templates.render(LETTER_HTML, letter=letter)
    # The first slot that waits for an answer is the one that mail programs show with buttons.
    ordered = sorted(slots, key=lambda slot: slot.is_confirmed)
    calendars = [
        CalendarPart(f"slot-{slot.label}.ics", "REQUEST", invitation(plan, station, letter, slot)) for slot in ordered
    ]
    attached = [("windows.pdf", "application/pdf", pdf)] if pdf is not None else []
    sequence = max((slot.sequence for slot in (*slots, *withdrawn)), default=0)
    mail = mail_bytes(
        Parts(
            sender=_sender(plan),
            recipient=Person(person(station), station.email or ""),
            subject=letter.subject,
            date=stamp_of(plan, sequence),
            text=text,
            html=html,
            calendars=calendars,
            files=attached,
        )
    )
    files = {"letter.eml": mail, "letter.json": _summary(plan, station, letter, mail, kind, slots, ())}
    if withdrawn:
        files |= _withdrawal(plan, station, letter, withdrawn, has_letter=True)
    return files


def _withdrawal(
    plan: Plan, station: Station, letter: Letter, withdrawn: tuple[Slot, ...], has_letter: bool
) -> dict[str, bytes]:
    """A mail of its own: one mail carries one method, and a program that reads it removes the event."""
    short = withdrawal_letter(plan, station, letter, withdrawn, has_letter)
    # Always our own template: one of the user's own is written for a letter with slots.
    templates = Templates()
    calendars = [
        CalendarPart(f"slot-{slot.label}-withdrawn.ics", "CANCEL", withdrawal(plan, station, slot))
        for slot in withdrawn
    ]
    mail = mail_bytes(
        Parts(
            sender=_sender(plan),
            recipient=Person(person(station), station.email or ""),
            subject=short.subject,
            date=stamp_of(plan, max(slot.sequence for slot in withdrawn)),
            text=templates.render(LETTER_TEXT, letter=short),
            html=templates.render(LETTER_HTML, letter=short),
            calendars=calendars,
            files=[],
        )
    )
    return {
        "withdrawal.eml": mail,
        "withdrawal.json": _summary(plan, station, short, mail, WITHDRAWAL, (), withdrawn),
    }


def _sender(plan: Plan) -> Person:
    sender = plan.inputs.season.letters.sender
    assert sender is not None
    return Person(sender.name, sender.email)


def _summary(
    plan: Plan,
    station: Station,
    letter: Letter,
    mail: bytes,
    kind: str,
    slots: tuple[Slot, ...],
    withdrawn: tuple[Slot, ...],
) -> bytes:
    """What `send` needs to know of a mail without reading it."""
    content = {
        "plan": plan.number,
        "partner": station.call,
        "to": one_line(station.email or ""),
        "subject": one_line(letter.subject),
        "digest": digest_without_date(mail) if mail else "",
        "content_digest": content_digest(letter, [slot.entry for slot in (*slots, *withdrawn)]),
        "kind": kind,
        "slots": [slot.entry for slot in slots],
        "withdrawn": [slot.entry for slot in withdrawn],
    }
    return (json.dumps(content, indent=1, ensure_ascii=False) + "\n").encode()


def addressed(plan: Plan) -> list[Station]:
    """The partners who are written to: not those of whom no contact is wanted, unless something is agreed or undone."""
    pairs = zip(plan.inputs.partners, plan.inputs.wishes, strict=True)
    return [
        station
        for station, wish in pairs
        if wish.contacts_wanted or slots_of(plan, station.call) or withdrawn_of(plan, station.call)
    ]


def left_behind(plan: Plan) -> tuple[str, ...]:
    """`QF4LUM A`: slots offered to someone who is no partner any more, whom no letter reaches."""
    calls = {station.call for station in plan.inputs.partners}
    return tuple(f"{row['partner']} {row['label']}" for row in records(plan.withdrawn) if row["partner"] not in calls)


def late_answers(plan: Plan, today: dt.date) -> tuple[str, ...]:
    """What is odd about the day by which the letters ask for an answer: a letter itself knows no clock."""
    reply_by = plan.inputs.season.letters.reply_by
    if reply_by is None or not len(plan.agenda):
        return ()
    if reply_by < today:
        return (f"the letters ask for an answer by {reply_by}, which is past; change letters.reply_by",)
    first = as_instant(plan.agenda["slot_start_utc"].min()).date()
    if reply_by >= first:
        return (f"the letters ask for an answer by {reply_by}, and the first slot is on {first}",)
    return ()


def folder_name(call: str) -> str:
    """A call as the name of a folder."""
    return call.replace("/", "-")


def page_path(call: str) -> str:
    """Where a partner's page stands in the folder of the period."""
    return f"{FOLDER}/{folder_name(call)}/windows.pdf"


def page_documents(plan: Plan, stations: list[Station], templates: Templates) -> dict[str, Document]:
    """The page of each partner who is asked for something, by its path."""
    return {
        page_path(one.call): windows_document(plan, one, build_letter(plan, one.call), templates)
        for one in stations
        if is_wanted(plan, one)
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
    stations = addressed(plan)
    period = out_folder / plan.period.name
    folder = period / FOLDER
    documents = page_documents(plan, stations, templates) if with_pdf else {}
    with only_run_in(out_folder):
        repair_period(period)
        tell(f"{formats.count(len(documents), 'page')}")
        pages = windows_pdfs(documents, period, templates)
        tell(f"{formats.count(len(stations), 'letter')}")
        made = [partner_files(plan, station, templates, pages.get(page_path(station.call))) for station in stations]
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
