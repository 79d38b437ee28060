"""The agenda's table as pages and files have it: its slots by both clocks, and where to try again in words.

From the plan's table, whose other columns stay as they are.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from pipeline.windows.instants import as_instant
from pipeline.wording.slots import fall_back_words, local_span

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan


def agenda_in_words(plan: Plan) -> pd.DataFrame:
    """`home_local` and `partner_local` behind the instants (empty without a time zone); `fall_back` in words."""
    made = plan.agenda.copy()
    edges = zip(made["slot_start_utc"], made["slot_end_utc"], strict=True)
    spans = [(as_instant(start), as_instant(end)) for start, end in edges]
    zones = [plan.inputs.partner(call).zone for call in made["partner"]]
    here = [local_span(*span, plan.zone) for span in spans]
    there = [local_span(*span, zone) if zone else "" for span, zone in zip(spans, zones, strict=True)]
    told = [fall_back_words(start, one, plan.zone) for (start, _), one in zip(spans, made["fall_back"], strict=True)]
    place = made.columns.tolist().index("slot_end_utc")
    made.insert(place + 1, "home_local", here)
    made.insert(place + 2, "partner_local", there)
    # Until the first letters are made nobody knows the random part of an identifier.
    record = plan.inputs.record
    sent = {offer.uid for offer in record.offers}
    known = [uid if record.uid_key or uid in sent else "" for uid in made["uid"]]
    return made.assign(fall_back=told, uid=known)
