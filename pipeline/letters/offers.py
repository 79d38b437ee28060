"""What one partner is offered now, against what the ledger says it was offered before.

From the plan's agenda and the record. A slot keeps its UID for life; SEQUENCE rises by one when its start, its end or
its status has changed since the last delivery (RFC 5546, section 2.1.4), and not otherwise.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pipeline.record import ledger
from pipeline.windows.frames import records
from pipeline.windows.instants import as_instant
from pipeline.wording.words import CONFIRMED, PROPOSED

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan
    from pipeline.record.model import Offer

Row = dict[str, Any]


@dataclass(frozen=True)
class Slot(ledger.Slot):
    """One slot as it is offered; `before` is when it was offered last, None where it was not or stands unmoved.

    `row` is its line of the agenda; empty for a withdrawn one. `state_before` and `told_digest` are those of the letter
    that offered it last.
    """

    before: tuple[dt.datetime, dt.datetime] | None
    offered_before: bool
    row: Row
    state_before: str = ""
    told_digest: str = ""

    @property
    def is_confirmed(self) -> bool:
        """Whether the partner has already said yes."""
        return self.state == CONFIRMED


def slots_of(plan: Plan, call: str) -> tuple[Slot, ...]:
    """The partner's slots in the agenda, in order of their labels."""
    offers = _offers(plan, call)
    rows = sorted(_own(plan.agenda, call), key=lambda row: (len(str(row["label"])), str(row["label"])))
    return tuple(_slot(row, offers.get(str(row["uid"]))) for row in rows)


def withdrawn_of(plan: Plan, call: str) -> tuple[Slot, ...]:
    """Slots that the partner was offered and that are no longer held, those it refused itself left out."""
    offers = _offers(plan, call)
    found = []
    for row in _own(plan.withdrawn, call):
        offer = offers.get(str(row["uid"]))
        if (offer is not None and offer.withdrawn) or _refused(plan, call, row):
            continue
        found.append(
            Slot(
                uid=str(row["uid"]),
                sequence=int(row["sequence"]) + 1,
                label=str(row["label"]),
                operator=offer.operator if offer is not None else plan.inputs.home.call,
                start_utc=as_instant(row["slot_start_utc"]),
                end_utc=as_instant(row["slot_end_utc"]),
                state="withdrawn",
                before=None,
                offered_before=True,
                row={},
            )
        )
    return tuple(found)


def refused_of(plan: Plan, call: str) -> tuple[str, ...]:
    """Letters of the slots that the partner was offered and has said no to."""
    return tuple(str(row["label"]) for row in _own(plan.withdrawn, call) if _refused(plan, call, row))


def _refused(plan: Plan, call: str, row: Row) -> bool:
    """Whether the partner itself has said no to this slot: nobody is told what it knows."""
    start = as_instant(row["slot_start_utc"])
    return any(
        lock.partner == call
        and lock.state == "declined"
        and (lock.label == str(row["label"]) if lock.label else lock.start_utc == start)
        for lock in plan.inputs.record.locks
    )


def _own(frame: Any, call: str) -> list[Row]:
    return records(frame[frame["partner"] == call]) if len(frame) else []


def _offers(plan: Plan, call: str) -> dict[str, Offer]:
    return {offer.uid: offer for offer in plan.inputs.record.offers if offer.partner == call}


def _slot(row: Row, offer: Offer | None) -> Slot:
    start, end = as_instant(row["slot_start_utc"]), as_instant(row["slot_end_utc"])
    state = str(row["state"])
    moved = offer is not None and (offer.start_utc, offer.end_utc) != (start, end)
    return Slot(
        uid=str(row["uid"]),
        sequence=_sequence(offer, moved, state),
        label=str(row["label"]),
        operator=str(row["operator"]),
        start_utc=start,
        end_utc=end,
        state=state,
        before=(offer.start_utc, offer.end_utc) if offer is not None and moved and not offer.withdrawn else None,
        offered_before=offer is not None,
        row=row,
        state_before=offer.state if offer is not None else "",
        told_digest=offer.digest if offer is not None else "",
    )


def _sequence(offer: Offer | None, moved: bool, state: str) -> int:
    if offer is None:
        return 0
    # An old ledger may not say in which state a slot was offered: then it was a proposal.
    status_changed = ((offer.state or PROPOSED) == CONFIRMED) != (state == CONFIRMED)
    return offer.sequence + (1 if moved or status_changed or offer.withdrawn else 0)
