"""A judged time as JSON: both ends, the slot, what stands against it, the nearest other time; units in the names."""

from __future__ import annotations

import datetime as dt

from pipeline.agenda.proposal import Judged
from pipeline.agenda.proposal_ends import EndThen
from pipeline.agenda.proposal_others import Clash
from pipeline.reports.precision import rounded_tree
from pipeline.windows.rules import RULES
from pipeline.wording.proposals import against_words


def proposal_json(judged: Judged, reply: str) -> dict[str, object]:
    """All of it as plain values; `reply` is what is to be pasted."""
    other = judged.other
    told: dict[str, object] = rounded_tree(
        {
            "partner": judged.partner.station.call,
            "slot_start_utc": _utc(judged.start),
            "slot_end_utc": _utc(judged.end) if judged.chance is not None else None,
            "night": judged.night.isoformat(),
            "label": judged.label,
            "operator": judged.operator,
            "mode": judged.mode,
            "chance": judged.chance,
            "chance_met": judged.chance_met,
            "possible": judged.is_possible,
            "agreed": judged.agreed,
            "against": [one.value for one in judged.against],
            "against_in_words": against_words(judged),
            "ends": {"home": _end(judged.home, judged), "partner": _end(judged.partner, judged)},
            "clashes": [_clash(one) for one in judged.clashes],
            "own_slots": [_clash(one) for one in judged.own],
            "moves_from_utc": None if judged.before is None else _utc(judged.before[0]),
            "other_time": None
            if other is None
            else {"slot_start_utc": _utc(other.start), "slot_end_utc": _utc(other.end), "chance": other.chance},
            "reply": reply,
        }
    )
    return told


def _utc(moment: dt.datetime) -> str:
    return f"{moment:%Y-%m-%dT%H:%M:%SZ}"


def _end(end: EndThen, judged: Judged) -> dict[str, object]:
    return {
        "call": end.station.call,
        "local": judged.start.astimezone(end.zone).isoformat(),
        "azimuth_deg": end.azimuth_deg[0],
        "elevation_deg": end.elevation_deg[0],
        "skyline_deg": end.skyline_deg[0],
        "missed": {RULES[rule]: short for rule, short in end.missed},
        "hours": end.free.value,
        "asleep": end.asleep,
    }


def _clash(clash: Clash) -> dict[str, object]:
    return {
        "partner": clash.call,
        "label": clash.label,
        "slot_start_utc": _utc(clash.start),
        "slot_end_utc": _utc(clash.end),
        "state": clash.state,
        "overlaps": clash.overlaps,
        "promised": clash.promised,
    }
