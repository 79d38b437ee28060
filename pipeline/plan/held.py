"""A tried change that may move the agenda only where it gains enough: else what is proposed stays proposed.

From a plan of the files and the changed inputs; the slots proposed are held as open offers are (`agenda.agenda`).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipeline.agenda.commitments import PROPOSED
from pipeline.record.inputs import Inputs
from pipeline.record.model import Offer

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan


@dataclass(frozen=True)
class Held:
    """The plan of the changed inputs: its agenda is held, or free where that gains more than `least_gain` contacts.

    `gain` is what the free one brings more than the held one, contacts; less than nothing where it saves nights.
    """

    plan: Plan
    is_held: bool
    gain: float
    least_gain: float


def hold_agenda(before: Plan, changed: Inputs, least_gain: float, make: Callable[[Inputs], Plan]) -> Held:
    """The plan of changed inputs that holds the agenda of `before` unless the best one gains more; `make` plans."""
    free, held = make(changed), make(_with_proposals(changed, before))
    gain = free.contacts_expected - held.contacts_expected
    return Held(free if gain > least_gain else held, gain <= least_gain, gain, least_gain)


def with_offers(inputs: Inputs, offers: Sequence[Offer]) -> Inputs:
    """The inputs as if these had been sent, but for those that were."""
    sent = inputs.record.offers
    known = {(one.partner, one.label) for one in sent}
    more = tuple(one for one in offers if (one.partner, one.label) not in known)
    return dataclasses.replace(inputs, record=dataclasses.replace(inputs.record, offers=(*sent, *more)))


def _with_proposals(inputs: Inputs, before: Plan) -> Inputs:
    """The inputs as if every slot proposed had been sent, home standing where it does in that plan."""
    proposed = {
        slot.uid: Offer(slot.uid, slot.call, slot.operator, slot.label, slot.start, slot.end, 0, False, PROPOSED)
        for slot in before.slots
        if slot.state == PROPOSED and not slot.outcome
    }
    sent = tuple(offer for offer in inputs.record.offers if offer.uid not in proposed)
    record = dataclasses.replace(inputs.record, offers=(*sent, *proposed.values()))
    return dataclasses.replace(inputs, record=record, sites=before.inputs.sites)
