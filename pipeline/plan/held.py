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
from pipeline.windows.span import Span

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


def as_if_sent(inputs: Inputs, planned: Sequence[Offer], span: Span) -> Inputs:
    """The inputs as if the slots planned for these dates had been sent.

    What was sent stands as it is: that time is the one that the partner knows, with the other times of its letter.
    Letters begin anew with each period, so that those of another one are other slots.
    """
    sent = inputs.record.offers
    known = {(one.partner, one.label) for one in sent if _is_of(one, span)}
    more = tuple(one for one in planned if (one.partner, one.label) not in known)
    return dataclasses.replace(inputs, record=dataclasses.replace(inputs.record, offers=(*sent, *more)))


def _is_of(offer: Offer, span: Span) -> bool:
    """Whether a slot was offered in a plan of these dates: by its identifier, or by its time."""
    return f"-{span.name}-" in offer.uid or span.holds(offer.start_utc)


def _with_proposals(inputs: Inputs, before: Plan) -> Inputs:
    """The inputs as if every slot proposed had been sent, home standing where it does in that plan."""
    proposed = [
        Offer(slot.uid, slot.call, slot.operator, slot.label, slot.start, slot.end, 0, False, PROPOSED)
        for slot in before.slots
        if slot.state == PROPOSED and not slot.outcome
    ]
    return dataclasses.replace(as_if_sent(inputs, proposed, before.period), sites=before.inputs.sites)
