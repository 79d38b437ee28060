"""Valid files of every kind that a reader of the house takes; all of it invented."""

from __future__ import annotations

SURVEYED = b"call: QF4LUM\nposition: {latitude_deg: 60.9, longitude_deg: 23.4}\nhorizon: {file: survey.csv}\n"
SURVEY = b"azimuth_deg,elevation_deg\n0,6.5\n60,5.0\n120,4.2\n265,0.8\n310,5.5\n"
ROSTER = (
    b"call,position.latitude_deg,position.longitude_deg,time_zone,bands.3cm.power_w\n"
    b"QF4LUM,60.9,23.4,Europe/Helsinki,40\n"
    b'QN1PIK,42.5,"-71.6",America/New_York,25\n'
)
MODES = (
    b"- {mode: Q65, period_s: 60, tone_spacing_hz: 6.667, needed_snr_db: -27.4, messages: 4}\n"
    b"- {mode: CW, period_s: 60, tone_spacing_hz: 50.0, needed_snr_db: -15.0, messages: 4}\n"
)
AGENDA = (
    b"slots:\n"
    b"  - {partner: QF4LUM, label: A, start: 2027-03-13T19:00Z, end: 2027-03-13T20:00Z, state: confirmed, "
    b"operator: QM7TOR, answered: 2027-02-11}\n"
    b"  - {partner: QN1PIK, start: 2027-03-19T22:00Z, state: fixed}\n"
)
CORRECTIONS = (
    b"corrections:\n"
    b"  - {call: QF4LUM, band: 3cm, transmit_db: -1.20, receive_db: 0.40, transmit_uncertainty_db: 0.70, "
    b"receive_uncertainty_db: 0.80, reviewed: 2027-04-02}\n"
)
SLOT = (
    b'{"uid": "qm7tor-qf4lum-3cm-2027-03-a@mutual-moon.invalid", "sequence": 0, "label": "A", "operator": "QM7TOR", '
    b'"start_utc": "2027-03-13T19:00:00Z", "end_utc": "2027-03-13T20:00:00Z", "state": "proposed"}'
)
LEDGER = (
    b'{"event": "sending", "message_id": "<1@mutual-moon.invalid>", "stamp": "2027-02-01T10:00:00+00:00", '
    b'"partner": "QF4LUM", "to": "aino@lumme-fjord.example", "subject": "Moon", "kind": "first", "digest": "ab12", '
    b'"period": "2027-03", "slots": [' + SLOT + b'], "withdrawn": []}\n'
    b'{"event": "sent", "message_id": "<1@mutual-moon.invalid>", "stamp": "2027-02-01T10:00:03+00:00"}\n'
)
MEASUREMENTS = (
    b"time_utc,call,band,what,measured_db,aim,azimuth_offset_deg,elevation_offset_deg,remarks\n"
    b"2027-03-13T18:20Z,QM7TOR,3cm,sun,11.2,peak,0.2,-0.1,windy\n"
    b"2027-03-13T18:40Z,QM7TOR,3cm,ground,4.1,dial,,,\n"
)
ATTEMPTS = (
    b"call,operator,time_utc,band,frequency_mhz,mode,report_sent,report_received,report_sent_db,report_received_db,"
    b"completed,heard,remarks,slot_start_utc,slot_end_utc,periods_tried_at_home,periods_heard_at_home,"
    b"periods_tried_at_partner,periods_heard_at_partner,guessed_at_home,guessed_at_partner\n"
    b"QF4LUM,QM7TOR,2027-03-13T19:20:00Z,3cm,10368.1,CW,-12,-14,-12,-14,yes,yes,clear,2027-03-13T19:00:00Z,"
    b"2027-03-13T20:00:00Z,10,4,,,no,no\n"
)
FLUXES = (
    b"fluxdate fluxtime fluxobsflux\n20270301 200000 151.2\n20270302 200000 149.8\n",
    b"# invented\n2027 03 01 151.2\n2027 03 02 149.8\n",
)
ADI = (
    b"an invented log\n<ADIF_VER:5>3.1.4<EOH>\n"
    b"<CALL:6>QF4LUM<QSO_DATE:8>20270313<TIME_ON:6>192000<BAND:3>3cm<FREQ:7>10368.1<MODE:2>CW<RST_SENT:3>-12"
    b"<RST_RCVD:3>-14<PROP_MODE:3>EME<EOR>\n"
    b"<CALL:6>QN1PIK<QSO_DATE:8>20270319<TIME_ON:4>2250<BAND:3>3cm<MODE:3>Q65<QSO_COMPLETE:1>N<PROP_MODE:3>EME<EOR>\n"
)
ADX = (
    b'<?xml version="1.0" encoding="UTF-8"?>\n<ADX><HEADER><ADIF_VER>3.1.4</ADIF_VER></HEADER><RECORDS>\n'
    b"<RECORD><CALL>QF4LUM</CALL><QSO_DATE>20270313</QSO_DATE><TIME_ON>1920</TIME_ON><BAND>3cm</BAND><MODE>CW</MODE>"
    b"<RST_SENT>-12</RST_SENT><PROP_MODE>EME</PROP_MODE></RECORD>\n</RECORDS></ADX>\n"
)
LOG_CSV = (
    b"partner,night,slot_start_utc,slot_end_utc,frequency_mhz,band,mode,operator,report_sent,report_received,completed,"
    b"time_utc,remarks\n"
    b"QF4LUM,2027-03-13,2027-03-13T19:00:00Z,2027-03-13T20:00:00Z,10368.1,3cm,CW,QM7TOR,-12,-14,yes,19:20,clear\n"
    b"QG8FEN,2027-03-13,2027-03-13T21:45:00Z,2027-03-13T22:45:00Z,10368.1,3cm,Q65,QM7TOR,,,no,22:10,\n"
)
REPLY = (
    b"BEGIN:VCALENDAR\r\nPRODID:-//An invented calendar//EN\r\nVERSION:2.0\r\nMETHOD:REPLY\r\nBEGIN:VEVENT\r\n"
    b"UID:qm7tor-qf4lum-3cm-2027-03-a@mutual-moon.invalid\r\nSEQUENCE:0\r\nDTSTAMP:20270203T081500Z\r\n"
    b"ORGANIZER:mailto:ines@basalt-tor.example\r\n"
    b"ATTENDEE;CN=Aino;PARTSTAT=ACCEPTED:MAILTO:Aino@Lumme-Fjord.example\r\nDTSTART:20270313T190000Z\r\n"
    b"DTEND:20270313T200000Z\r\nCOMMENT:See you on the Moon\\, Ines\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
)
CALENDARS = (REPLY, REPLY.replace(b"ACCEPTED", b"DECLINED"), REPLY.replace(b"METHOD:REPLY", b"METHOD:COUNTER"))
MAIL = (
    b"From: Aino Lummela <aino@lumme-fjord.example>\r\nTo: ines@basalt-tor.example\r\nSubject: Accepted: Moon\r\n"
    b"Date: Wed, 03 Feb 2027 08:15:00 +0000\r\nMessage-ID: <7@lumme-fjord.example>\r\nMIME-Version: 1.0\r\n"
    b'Content-Type: multipart/alternative; boundary="b1"\r\n\r\n'
    b"--b1\r\nContent-Type: text/plain; charset=utf-8\r\n\r\nYes, gladly.\r\n"
    b"--b1\r\nContent-Type: text/calendar; charset=utf-8; method=REPLY\r\n\r\n" + REPLY + b"\r\n--b1--\r\n"
)
WORDS = (
    b"From: aino@lumme-fjord.example\r\nTo: ines@basalt-tor.example\r\nSubject: Moon\r\n"
    b"Date: Wed, 03 Feb 2027 08:15:00 +0000\r\n\r\nA is fine for me, B is not.\r\n"
)
MAILS = (MAIL, WORDS)
