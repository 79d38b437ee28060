"""Calendar objects: read by three independent libraries and a calendar server; the rules of RFC 5545, 5546 and 6047."""

import base64
import dataclasses
import datetime as dt
import logging
import threading
import urllib.error
import urllib.request
import warnings
import wsgiref.simple_server
from collections.abc import Iterator
from pathlib import Path

import icalendar
import pandas as pd
import pytest

from pipeline.inputs.letter_keys import Sender
from pipeline.letters import invitations, making
from pipeline.letters.offers import offered_slots, withdrawn_slots
from pipeline.letters.templates import Templates
from pipeline.plan.plan import Plan
from pipeline.record.model import Answer, OfferedTime
from tests.letters.readers import calendars, opened, unfolded
from tests.letters.stand_in import HOUR, demo_letters, offer_of, slot, uid_of, with_slots
from tests.plan.months import month_plan

KINDS = (
    "request", "second request", "windows", "agenda", "withdrawal", "with choices", "moved", "settled", "new dials",
)  # fmt: skip
# (what, start, end, uid) of each event.
Facts = list[tuple[str, dt.datetime, dt.datetime, str]]


@pytest.fixture(scope="module")
def plan() -> Plan:
    return demo_letters()


@pytest.fixture(scope="module")
def objects(plan: Plan) -> dict[str, bytes]:
    """One of each kind."""
    made = files(plan, "QF4LUM")
    message = opened(made["letter.eml"])
    base = month_plan()
    gone = slot(base, "QF4LUM", "B", 12)
    cancelled = files(with_slots(base, offers=[offer_of(gone, 4)], withdrawn=[gone | {"sequence": 4}]), "QF4LUM")
    agenda = invitations.agenda_calendar(plan)
    assert agenda is not None
    return {
        "request": ics(message, "slot-A.ics"),
        "second request": ics(message, "slot-B.ics"),
        "windows": made["windows.ics"],
        "agenda": agenda,
        "withdrawal": ics(opened(cancelled["withdrawal.eml"]), "slot-B-withdrawn.ics"),
        **changed_requests(base),
    }


def changed_requests(base: Plan) -> dict[str, bytes]:
    """The invitation of a slot with another time B; then moved, settled at B, and with new dials, each told before."""
    first, other = slot(base, "QF4LUM", "A", 6), slot(base, "QF4LUM", "A", 7)
    edges = other["slot_start_utc"].to_pydatetime(), other["slot_end_utc"].to_pydatetime()
    row = {
        "label": "B",
        "instead_of": "A",
        "slot_start_utc": other["slot_start_utc"],
        "slot_end_utc": other["slot_end_utc"],
    }
    row |= {name: first[name] for name in ("partner", "operator", "band", "night", "chance")}
    choices = dataclasses.replace(with_slots(base, first), alternatives=pd.DataFrame([row]))
    (told,) = making.partner_files(choices.for_partner("QF4LUM"), Templates(), None).slots
    offer = offer_of(first, alternatives=(OfferedTime("B", *edges),), told=told.told, stamp_utc=told.stamp_utc)
    assert told.told is not None
    elsewhere = dataclasses.replace(told.told, listen_hz=(10_368_000_000.0,))
    plans = {
        "with choices": choices,
        "moved": with_slots(base, other, offers=[dataclasses.replace(offer, alternatives=())]),
        "settled": with_slots(base, other | {"state": "confirmed"}, offers=[offer]),
        "new dials": with_slots(base, first, offers=[dataclasses.replace(offer, told=elsewhere, content="0")]),
    }
    return {name: ics(opened(files(plan, "QF4LUM")["letter.eml"]), "slot-A.ics") for name, plan in plans.items()}


def files(plan: Plan, call: str) -> dict[str, bytes]:
    return making.partner_files(plan.for_partner(call), Templates(), None).files


def ics(message: object, name: str) -> bytes:
    """An attached calendar as its bytes came."""
    part = next(one for one in calendars(message, attached=True) if one.get_filename() == name)  # type: ignore[arg-type]
    return bytes(part.get_payload(decode=True))


def by_icalendar(raw: bytes) -> Facts:
    events = icalendar.Calendar.from_ical(raw).walk("VEVENT")
    return sorted((str(e["summary"]), e.start, e.end, str(e["uid"])) for e in events)


def by_vobject(raw: bytes) -> Facts:
    import vobject

    events = vobject.readOne(raw.decode()).vevent_list
    return sorted((e.summary.value, e.dtstart.value, e.dtend.value, e.uid.value) for e in events)


def by_ical(raw: bytes) -> Facts:
    from ical.calendar_stream import IcsCalendarStream

    found = IcsCalendarStream.calendar_from_ics(raw.decode()).events
    return sorted((e.summary, e.dtstart, e.dtend, e.uid) for e in found)


def by_ics(raw: bytes) -> Facts:
    with warnings.catch_warnings():
        # The library's own use of a deprecated date call and of its parser; nothing of ours.
        warnings.simplefilter("ignore")
        import ics as library

        events = library.Calendar(raw.decode()).events
        return sorted((e.name, e.begin.datetime, e.end.datetime, e.uid) for e in events)


@pytest.mark.parametrize("kind", KINDS)
def test_four_libraries_read_the_same(objects, kind, outside):
    raw = objects[kind]
    found = [read(raw) for read in (by_icalendar, by_vobject, by_ical, by_ics)]
    assert found[0] == found[1] == found[2] == found[3]
    assert len(found[0]) == raw.count(b"BEGIN:VEVENT") >= 1
    outside("vobject, ical and ics", len(found[0]), "0 s", "events")


@pytest.mark.parametrize("kind", KINDS)
def test_lines_and_times_keep_to_the_standard(objects, kind):
    raw = objects[kind]
    assert raw.endswith(b"END:VCALENDAR\r\n")
    assert raw.count(b"\n") == raw.count(b"\r\n")
    # RFC 5545, section 3.1: no line is longer than 75 octets.
    assert max(len(line) for line in raw.split(b"\r\n")) <= 75
    lines = unfolded(raw)
    assert lines.count("VERSION:2.0") == 1
    assert sum(line.startswith("METHOD:") for line in lines) == 1
    assert b"VTIMEZONE" not in raw
    assert b"TZID" not in raw
    for name in ("DTSTART", "DTEND", "DTSTAMP"):
        times = [line for line in lines if line.startswith(name)]
        assert times
        assert all(len(line) == len(name) + 17 and line.endswith("Z") for line in times)


def test_each_change_is_the_same_event_with_what_is_new(objects):
    """SEQUENCE rises with time and status alone (RFC 5546, 2.1.4), DTSTAMP with whatever differs (2.1.5)."""
    found = {
        kind: icalendar.Calendar.from_ical(objects[kind]).walk("VEVENT")[0]
        for kind in ("with choices", "moved", "settled", "new dials")
    }
    assert {str(event["uid"]) for event in found.values()} == {uid_of("QF4LUM", "A")}
    assert [int(found[kind]["sequence"]) for kind in found] == [0, 1, 1, 0]
    first, moved, settled, dials = found.values()
    assert first.start == dials.start < moved.start == settled.start
    assert settled["status"] == "CONFIRMED"
    assert first["status"] == moved["status"] == "TENTATIVE"
    assert all(later["dtstamp"].dt > first["dtstamp"].dt for later in (moved, settled, dials))


def test_a_request_asks_one_person_for_one_slot(objects, plan):
    # RFC 5546, section 3.2.2 (that all of an object has one UID: from memory). The attendee's parameters are those that
    # large mail services ask for (from memory).
    for name, label in (("request", "A"), ("second request", "B")):
        calendar = icalendar.Calendar.from_ical(objects[name])
        (event,) = calendar.walk("VEVENT")
        assert calendar["method"] == "REQUEST"
        assert event["uid"] == uid_of("QF4LUM", label)
        assert event["organizer"] == "mailto:ines@basalt-tor.example"
        attendee = event["attendee"]
        assert attendee == "mailto:aino@lumme-fjord.example"
        assert {key: str(attendee.params[key]) for key in ("CUTYPE", "ROLE", "PARTSTAT", "RSVP")} == {
            "CUTYPE": "INDIVIDUAL", "ROLE": "REQ-PARTICIPANT", "PARTSTAT": "NEEDS-ACTION", "RSVP": "TRUE",
        }  # fmt: skip
        assert (event["status"], event["transp"], event["sequence"]) == ("TENTATIVE", "OPAQUE", 0)
        assert {alarm["trigger"].dt for alarm in event.walk("VALARM")} == {-dt.timedelta(days=1), -HOUR}
        assert plan.number in event["description"]


def test_the_stamp_is_no_clock(objects):
    # 365 days before the first night, 1 March 2027; later by a minute for each sequence.
    for name, minute in (("request", 0), ("windows", 0), ("withdrawal", 5)):
        event = icalendar.Calendar.from_ical(objects[name]).walk("VEVENT")[0]
        assert event["dtstamp"].dt == dt.datetime(2026, 3, 1, 0, minute, tzinfo=dt.UTC)


def test_who_has_said_yes_is_not_asked_again(plan):
    raw = ics(opened(files(plan, "QZ5KAR")["letter.eml"]), "slot-A.ics")
    (event,) = icalendar.Calendar.from_ical(raw).walk("VEVENT")
    assert event["status"] == "CONFIRMED"
    assert (str(event["attendee"].params["PARTSTAT"]), str(event["attendee"].params["RSVP"])) == ("ACCEPTED", "FALSE")


def test_who_has_said_maybe_is_asked_again_and_its_maybe_stays():
    # RFC 5545, section 3.2.12: an organizer's copy holds the status that it knows.
    base = month_plan()
    row = slot(base, "QF4LUM", "A", 6, state="tentative")
    raw = ics(opened(files(with_slots(base, row, offers=[offer_of(row)]), "QF4LUM")["letter.eml"]), "slot-A.ics")
    (event,) = icalendar.Calendar.from_ical(raw).walk("VEVENT")
    assert event["status"] == "TENTATIVE"
    assert (str(event["attendee"].params["PARTSTAT"]), str(event["attendee"].params["RSVP"])) == ("TENTATIVE", "TRUE")


def test_the_mail_carries_the_calendar_as_mail_programs_want_it(plan):
    # RFC 6047, section 2.4 and the published practice of large mail programs: the calendar is the last alternative, its
    # method is the calendar's own, and the same object is attached as a file.
    message = opened(files(plan, "QF4LUM")["letter.eml"])
    assert message.get_content_type() == "multipart/mixed"
    alternative, *attached = message.iter_parts()
    assert alternative.get_content_type() == "multipart/alternative"
    kinds = [part.get_content_type() for part in alternative.iter_parts()]
    assert kinds == ["text/plain", "text/html", "text/calendar"]
    (shown,) = calendars(message, attached=False)
    assert shown.get_payload(decode=True) == attached[0].get_payload(decode=True)
    for part in [shown, *attached]:
        content = icalendar.Calendar.from_ical(part.get_payload(decode=True))
        assert part.get_param("method") == content["method"] == "REQUEST"
        assert str(part.get_param("charset")).lower() == "utf-8"
        assert len(content.walk("VEVENT")) == 1
    assert message["From"].addresses[0].addr_spec == "ines@basalt-tor.example"
    assert message["To"].addresses[0].addr_spec == "aino@lumme-fjord.example"
    assert message["Message-ID"].endswith("@basalt-tor.example>")


def test_a_mail_is_seven_bit_with_short_lines(plan):
    raw = files(plan, "QF4LUM")["letter.eml"]
    assert raw.isascii()
    # RFC 5322, section 2.1.1.
    assert max(len(line) for line in raw.split(b"\r\n")) <= 78
    assert raw.count(b"\n") == raw.count(b"\r\n")


def test_the_slot_that_waits_for_an_answer_has_the_buttons():
    base = month_plan()
    plan = with_slots(base, slot(base, "QF4LUM", "A", 6, state="confirmed"), slot(base, "QF4LUM", "B", 12))
    (shown,) = calendars(opened(files(plan, "QF4LUM")["letter.eml"]), attached=False)
    (event,) = icalendar.Calendar.from_ical(shown.get_payload(decode=True)).walk("VEVENT")
    assert event["uid"] == uid_of("QF4LUM", "B")


@pytest.mark.parametrize(
    ("change", "sequence"),
    [
        ({}, 3),
        ({"start_utc": dt.datetime(2027, 3, 10, 9, tzinfo=dt.UTC)}, 4),
        ({"end_utc": dt.datetime(2027, 3, 10, 23, tzinfo=dt.UTC)}, 4),
        ({"state": "confirmed"}, 4),
        ({"state": "tentative"}, 3),
        ({"state": ""}, 3),
        ({"withdrawn": True}, 4),
    ],
)
def test_the_sequence_rises_only_with_a_change(change, sequence):
    # RFC 5546, section 2.1.4: with start, end and status; proposed and tentative are the same status.
    base = month_plan()
    row = slot(base, "QF4LUM", "A", 6)
    (found,) = offered_slots(with_slots(base, row, offers=[offer_of(row, 3, **change)]).for_partner("QF4LUM"))
    assert found.sequence == sequence


def test_a_withdrawal_is_a_higher_sequence_of_the_same_event(objects):
    # RFC 5546, section 3.2.5.
    calendar = icalendar.Calendar.from_ical(objects["withdrawal"])
    (event,) = calendar.walk("VEVENT")
    assert calendar["method"] == "CANCEL"
    assert (event["uid"], event["sequence"], event["status"]) == (uid_of("QF4LUM", "B"), 5, "CANCELLED")
    assert event["organizer"] == "mailto:ines@basalt-tor.example"
    assert event["attendee"] == "mailto:aino@lumme-fjord.example"


def test_nobody_is_told_of_a_withdrawal_twice_or_of_its_own_no():
    base = month_plan()
    gone = slot(base, "QF4LUM", "B", 12)
    told = with_slots(base, offers=[offer_of(gone, withdrawn=True)], withdrawn=[gone])
    assert withdrawn_slots(told.for_partner("QF4LUM")) == ()
    for label in ("B", ""):
        no = Answer("QF4LUM", label, offer_of(gone).start_utc, None, "declined", "QM7TOR", 2)
        refused = with_slots(base, offers=[offer_of(gone)], withdrawn=[gone], answers=[no])
        assert withdrawn_slots(refused.for_partner("QF4LUM")) == ()
    still = with_slots(base, offers=[offer_of(gone)], withdrawn=[gone])
    assert len(withdrawn_slots(still.for_partner("QF4LUM"))) == 1


def test_windows_are_published_as_free_time_and_lie_inside_the_windows(objects, plan):
    # RFC 5546, section 3.2.1: an organizer, no attendee.
    calendar = icalendar.Calendar.from_ical(objects["windows"])
    assert calendar["method"] == "PUBLISH"
    events = calendar.walk("VEVENT")
    own = plan.windows[plan.windows["partner"] == "QF4LUM"].sort_values("window_start_utc")
    assert len(events) == len(own)
    assert len({str(event["uid"]) for event in events}) == len(events)
    for event, row in zip(events, own.to_dict("records"), strict=True):
        assert event["transp"] == "TRANSPARENT"
        assert event["organizer"] == "mailto:ines@basalt-tor.example"
        assert "attendee" not in event
        assert row["window_start_utc"] <= pd.Timestamp(event.start) < pd.Timestamp(event.end) <= row["window_end_utc"]
        assert event.start.second == event.end.second == 0


def test_the_agenda_has_every_slot_with_the_alarm_of_the_crew(objects, plan):
    events = icalendar.Calendar.from_ical(objects["agenda"]).walk("VEVENT")
    assert sorted(str(event["uid"]) for event in events) == sorted(plan.agenda["uid"])
    # setup_minutes.arrive is 120 by default.
    assert all(-dt.timedelta(minutes=120) in {a["trigger"].dt for a in event.walk("VALARM")} for event in events)
    assert [event.start for event in events] == sorted(event.start for event in events)


def test_without_slots_or_windows_there_is_no_empty_calendar():
    # RFC 5545, section 3.6: a calendar object has one component at least.
    base = month_plan()
    assert invitations.agenda_calendar(with_slots(base)) is None
    assert "windows.ics" not in files(with_slots(base), "QI9TEA")


@pytest.mark.parametrize(
    "name", ['A "quoted" name', "comma, semicolon; colon: \\", "Bad\r\nATTENDEE:mailto:x@y.example"]
)
def test_names_cannot_break_a_calendar(plan, name):
    season = plan.inputs.season
    letters = dataclasses.replace(season.letters, sender=Sender(name, "ines@basalt-tor.example"), meet=name)
    partners = tuple(dataclasses.replace(one, operator=name) for one in plan.inputs.partners)
    inputs = dataclasses.replace(plan.inputs, season=dataclasses.replace(season, letters=letters), partners=partners)
    hostile = dataclasses.replace(plan, inputs=inputs)
    raw = ics(opened(files(hostile, "QF4LUM")["letter.eml"]), "slot-A.ics")
    assert sum(line.startswith("ATTENDEE") for line in unfolded(raw)) == 1
    for read in (by_icalendar, by_vobject, by_ical):
        assert [fact[3] for fact in read(raw)] == [uid_of("QF4LUM", "A")]
    agenda = invitations.agenda_calendar(hostile)
    assert agenda is not None
    assert len(by_vobject(agenda)) == len(plan.agenda)


@pytest.fixture(scope="module")
def calendar_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Radicale, an independent CalDAV server, on the loopback."""
    import radicale
    import radicale.config

    folder: Path = tmp_path_factory.mktemp("radicale")
    configuration = radicale.config.load()
    settings = {
        "storage": {"filesystem_folder": str(folder)},
        "auth": {"type": "none"},
        "rights": {"type": "authenticated"},
    }
    configuration.update(settings, "test")
    logging.getLogger("radicale").setLevel(logging.CRITICAL)

    class Quiet(wsgiref.simple_server.WSGIRequestHandler):
        def log_message(self, *_: object) -> None:
            """A server that says nothing."""

    application = radicale.Application(configuration)
    server = wsgiref.simple_server.make_server("127.0.0.1", 0, application, handler_class=Quiet)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}/operator/"
    server.shutdown()
    server.server_close()
    thread.join()


def asked(method: str, url: str, content: bytes | None = None) -> tuple[int, bytes]:
    request = urllib.request.Request(url, data=content, method=method)
    request.add_header("Content-Type", "text/calendar; charset=utf-8")
    request.add_header("Authorization", "Basic " + base64.b64encode(b"operator:operator").decode())
    # No proxy of the machine may stand between.
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    try:
        with opener.open(request, timeout=10) as answer:
            return answer.status, answer.read()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, error.read()


@pytest.mark.parametrize("kind", ["windows", "agenda"])
def test_a_calendar_server_takes_whole_calendars(objects, calendar_server, kind, outside):
    url = f"{calendar_server}{kind}/"
    status, said = asked("PUT", url, objects[kind])
    assert status == 201, said
    status, back = asked("GET", url)
    assert status == 200
    assert by_icalendar(back) == by_icalendar(objects[kind])
    outside("Radicale", len(by_icalendar(back)), "0 s", "events")


def test_a_calendar_server_takes_an_invitation_and_its_change(objects, calendar_server, outside):
    collection = f"{calendar_server}invitations/"
    assert asked("MKCALENDAR", collection)[0] == 201
    url = f"{collection}slot-a.ics"
    status, said = asked("PUT", url, objects["request"])
    assert status == 201, said
    assert by_icalendar(asked("GET", url)[1]) == by_icalendar(objects["request"])
    # Each change takes the place of the event before.
    kinds = ("with choices", "new dials", "moved", "settled")
    for kind in kinds:
        assert asked("PUT", url, objects[kind])[0] in (200, 201, 204)
        (held,), (sent,) = (
            icalendar.Calendar.from_ical(raw).walk("VEVENT") for raw in (asked("GET", url)[1], objects[kind])
        )
        assert held.start == sent.start
        for name in ("uid", "sequence", "status", "description", "dtstamp"):
            assert str(held[name]) == str(sent[name])
    other = f"{collection}slot-b.ics"
    assert asked("PUT", other, objects["withdrawal"])[0] == 201
    assert b"STATUS:CANCELLED" in asked("GET", other)[1]
    outside("Radicale", 2 + len(kinds), "0 s", "invitations")
