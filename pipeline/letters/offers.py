"""What one partner is offered now, against what the ledger says it was offered before.

From the plan's agenda and the record. A slot keeps its UID for life; SEQUENCE rises by one when its start, its end or
its status has changed since the last delivery (RFC 5546, section 2.1.4), and not otherwise.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipeline.record import ledger
from pipeline.record.model import DECLINED
from pipeline.wording.words import CONFIRMED, PROPOSED

if TYPE_CHECKING:
    from pipeline.plan.views import PartnerView, Slot, Withdrawn
    from pipeline.record.model import Offer


@dataclass(frozen=True)
class OfferedSlot(ledger.LetterSlot):
    """One slot as it is offered; `before` is when it was offered last, None where it was not or stands unmoved.

    `planned` is the agenda's own slot; None for a withdrawn one. `state_before` and `told_digest` are those of the
    letter that offered it last; `is_own_proposal` is whether the partner named this time itself.
    """

    before: tuple[dt.datetime, dt.datetime] | None
    offered_before: bool
    planned: Slot | None
    state_before: str = ""
    told_digest: str = ""
    is_own_proposal: bool = False

    @property
    def is_confirmed(self) -> bool:
        """Whether the partner has already said yes."""
        return self.state == CONFIRMED


def offered_slots(view: PartnerView) -> tuple[OfferedSlot, ...]:
    """The partner's slots in the agenda, in order of their labels."""
    offers = {offer.uid: offer for offer in view.offers}
    ordered = sorted(view.slots, key=lambda slot: (len(slot.label), slot.label))
    own = {(one.label, one.start_utc) for one in view.answers if one.is_own_proposal}
    return tuple(_offered(slot, offers.get(slot.uid), (slot.label, slot.start) in own) for slot in ordered)


def withdrawn_slots(view: PartnerView) -> tuple[OfferedSlot, ...]:
    """Slots that the partner was offered and that are no longer held, those it refused itself left out."""
    offers = {offer.uid: offer for offer in view.offers}
    found = []
    for gone in view.withdrawn:
        offer = offers.get(gone.uid)
        if (offer is not None and offer.withdrawn) or _refused(view, gone):
            continue
        found.append(
            OfferedSlot(
                uid=gone.uid,
                sequence=gone.sequence + 1,
                label=gone.label,
                operator=offer.operator if offer is not None else view.home.call,
                start_utc=gone.start,
                end_utc=gone.end,
                state="withdrawn",
                before=None,
                offered_before=True,
                planned=None,
            )
        )
    return tuple(found)


def refused_labels(view: PartnerView) -> tuple[str, ...]:
    """Letters of the slots that the partner was offered and has said no to."""
    return tuple(gone.label for gone in view.withdrawn if _refused(view, gone))


def _refused(view: PartnerView, gone: Withdrawn) -> bool:
    """Whether the partner itself has said no to this slot: nobody is told what it knows."""
    return any(
        answer.state == DECLINED and answer.is_about(answer.partner, gone.label, gone.start) for answer in view.answers
    )


def _offered(slot: Slot, offer: Offer | None, is_own_proposal: bool) -> OfferedSlot:
    moved = offer is not None and (offer.start_utc, offer.end_utc) != (slot.start, slot.end)
    return OfferedSlot(
        uid=slot.uid,
        sequence=_sequence(offer, moved, slot.state),
        label=slot.label,
        operator=slot.operator,
        start_utc=slot.start,
        end_utc=slot.end,
        state=slot.state,
        before=(offer.start_utc, offer.end_utc) if offer is not None and moved and not offer.withdrawn else None,
        offered_before=offer is not None,
        planned=slot,
        state_before=offer.state if offer is not None else "",
        told_digest=offer.digest if offer is not None else "",
        is_own_proposal=is_own_proposal,
    )


def _sequence(offer: Offer | None, moved: bool, state: str) -> int:
    if offer is None:
        return 0
    # An old ledger may not say in which state a slot was offered: then it was a proposal.
    status_changed = ((offer.state or PROPOSED) == CONFIRMED) != (state == CONFIRMED)
    return offer.sequence + (1 if moved or status_changed or offer.withdrawn else 0)
