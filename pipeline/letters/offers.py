"""What one partner is offered now, against what the ledger says it was offered before.

From the plan's agenda and the record. A slot keeps its UID for life; SEQUENCE rises by one when its start, its end or
its status has changed since the last delivery (RFC 5546, section 2.1.4), and not otherwise. DTSTAMP rises with every
delivered object that differs in anything (section 2.1.5).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from pipeline.agenda.spares import held_for
from pipeline.operating.one_question import one_question
from pipeline.record import ledger
from pipeline.record.model import DECLINED, FAILED, AskedSky, OfferedTime, Told
from pipeline.wording.words import CONFIRMED, PROPOSED

if TYPE_CHECKING:
    from pipeline.plan.views import PartnerView, Slot, Withdrawn
    from pipeline.record.model import Offer

# Known a year before the first night at the latest, so that every later stamp still lies before the slots.
STAMP_BEFORE = dt.timedelta(days=365)
STAMP_STEP = dt.timedelta(minutes=1)


@dataclass(frozen=True)
class OfferedSlot(ledger.LetterSlot):
    """One slot as it is offered; `before` is when it was offered last, None where it was not or stands unmoved.

    `planned` is the agenda's own slot; None for a withdrawn one. `state_before`, `told_digest`, `told_before` and
    `content_before` are those of the letter that offered it last; `stamp_utc` is the stamp that stands for its times
    and its status, one step later where the object differs in anything else. `chosen` is the letter of the other time
    that the partner took, `gone` are those of the times that it was told and that are no longer open to it;
    `is_own_proposal` is whether the partner named this time itself; `only_if` is the letter of the slot for whose
    failing this one is held, `failed` that of the one that has failed meanwhile.
    """

    before: tuple[dt.datetime, dt.datetime] | None
    offered_before: bool
    planned: Slot | None
    state_before: str = ""
    told_digest: str = ""
    told_before: Told | None = None
    content_before: str = ""
    chosen: str = ""
    gone: tuple[str, ...] = ()
    is_own_proposal: bool = False
    only_if: str = ""
    failed: str = ""

    @property
    def is_confirmed(self) -> bool:
        """Whether the partner has already said yes."""
        return self.state == CONFIRMED


def stamp_of(first_night: dt.date, steps: int = 0) -> dt.datetime:
    """The instant that stands for the clock: a year before the first night, later by a minute for each step."""
    return dt.datetime.combine(first_night, dt.time(), tzinfo=dt.UTC) - STAMP_BEFORE + STAMP_STEP * steps


def offered_slots(view: PartnerView) -> tuple[OfferedSlot, ...]:
    """The partner's slots in the agenda, in order of their labels."""
    offers = {offer.uid: offer for offer in view.offers}
    ordered = sorted(view.slots, key=lambda slot: (len(slot.label), slot.label))
    own = {(one.label, one.start_utc) for one in view.answers if one.is_own_proposal}
    firsts = held_for([(slot.label, slot.operator, slot.start) for slot in ordered], view.wish.contacts_wanted)
    found = [
        replace(
            _offered(view, slot, offers.get(slot.uid)),
            is_own_proposal=(slot.label, slot.start) in own,
            only_if=firsts.get(slot.label, ""),
            failed=_failed_first(view, offers.get(slot.uid)),
        )
        for slot in ordered
    ]
    # One question a letter: where it is about the sky, its azimuths go with the first slot.
    asked = one_question(view)
    if found and isinstance(asked, AskedSky):
        found[0] = replace(found[0], asked_sky=asked)
    return tuple(found)


def _failed_first(view: PartnerView, offer: Offer | None) -> str:
    """The slot for whose failing another one was held, as its partner was told, where it has failed; else empty."""
    first = offer.told.only_if if offer is not None and offer.told is not None else ""
    begin, end = view.edges
    own = [one for one in view.answers if one.label == first and begin <= one.start_utc < end]
    return first if first and any(one.outcome == FAILED for one in own) else ""


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
                stamp_utc=_stamp(view, offer, gone.sequence + 1),
                before=None,
                offered_before=True,
                planned=None,
                state_before=offer.state if offer is not None else "",
            )
        )
    return tuple(found)


def site_at(view: PartnerView, moment: dt.datetime) -> str:
    """The name of the site at which home stands at a moment; empty where it does not move."""
    return view.home_at(moment).title if view.stays else ""


def refused_labels(view: PartnerView) -> tuple[str, ...]:
    """Letters of the slots that the partner was offered and has said no to."""
    return tuple(gone.label for gone in view.withdrawn if _refused(view, gone))


def _refused(view: PartnerView, gone: Withdrawn) -> bool:
    """Whether the partner itself has said no to this slot: nobody is told what it knows."""
    return any(
        answer.state == DECLINED and answer.is_about(answer.partner, gone.label, gone.start) for answer in view.answers
    )


def _offered(view: PartnerView, slot: Slot, offer: Offer | None) -> OfferedSlot:
    moved = offer is not None and (offer.start_utc, offer.end_utc) != (slot.start, slot.end)
    sequence = _sequence(offer, moved, slot.state)
    chosen = _chosen(slot, offer) if offer is not None and moved else ""
    others = tuple(OfferedTime(one.label, one.start, one.end, site_at(view, one.start)) for one in slot.alternatives)
    left = {one.label for one in others} | {chosen}
    return OfferedSlot(
        uid=slot.uid,
        sequence=sequence,
        label=slot.label,
        operator=slot.operator,
        start_utc=slot.start,
        end_utc=slot.end,
        state=slot.state,
        stamp_utc=_stamp(view, offer, sequence),
        before=(offer.start_utc, offer.end_utc) if offer is not None and moved and not offer.withdrawn else None,
        offered_before=offer is not None,
        planned=slot,
        state_before=offer.state if offer is not None else "",
        told_digest=offer.digest if offer is not None else "",
        told_before=offer.told if offer is not None else None,
        content_before=offer.content if offer is not None else "",
        chosen=chosen,
        gone=tuple(one.label for one in offer.alternatives if one.label not in left) if offer is not None else (),
        alternatives=others,
    )


def _stamp(view: PartnerView, offer: Offer | None, sequence: int) -> dt.datetime:
    """The stamp of the last delivery, later where the sequence rises; old ledgers counted it by the sequence alone."""
    if offer is None:
        return stamp_of(view.first_night, sequence)
    before = offer.stamp_utc or stamp_of(view.first_night, offer.sequence)
    return before + STAMP_STEP if sequence > offer.sequence else before


def _chosen(slot: Slot, offer: Offer) -> str:
    """The letter of the other time at which an agreed slot stands now; empty where it was offered none such."""
    same = (one.label for one in offer.all_alternatives if (one.start_utc, one.end_utc) == (slot.start, slot.end))
    return next(same, "") if slot.state == CONFIRMED else ""


def _sequence(offer: Offer | None, moved: bool, state: str) -> int:
    if offer is None:
        return 0
    # An old ledger may not say in which state a slot was offered: then it was a proposal.
    status_changed = ((offer.state or PROPOSED) == CONFIRMED) != (state == CONFIRMED)
    return offer.sequence + (1 if moved or status_changed or offer.withdrawn else 0)
