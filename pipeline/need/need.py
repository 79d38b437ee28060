"""What it would take to work a partner: chances by night, the least that does, dish against power, a decibel's worth.

From the season's inputs and its span; the same stages as the plan, made anew for each figure that is tried.
"""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.inputs.model import Station
from pipeline.inputs.modes import Mode
from pipeline.need.by_night import ENDS, Chances, Pairing, make_pairing
from pipeline.need.decibel import DecibelWorth, decibel_worth, is_wanted
from pipeline.need.dish_and_power import DishAndPower, dish_and_power
from pipeline.need.reaching import ModeTried, Reach, modes_tried, reaches_of
from pipeline.need.roster import Workable, whom_it_works
from pipeline.pairs.corrections import rests_on_assumptions
from pipeline.pairs.mode_choice import pair_mode
from pipeline.pairs.survey import Progress, make_survey
from pipeline.record.inputs import Inputs
from pipeline.windows.beginning import with_beginning
from pipeline.windows.span import Span, plan_number


@dataclass(frozen=True)
class Need:
    """All that the page of a partner's needs is made of.

    `is_assumed` says that the pair rests on figures or a skyline that no file states, and so is never called strong.
    `thresholds` are the chances asked for, workable and strong. `with_partner` and `with_all` say what a decibel on
    the ways to and from this partner, and to and from all, is worth. Without a window `reaches`, `modes` and `tables`
    are empty. `is_wanted` is False where every wished contact with it is made.
    """

    inputs: Inputs
    span: Span
    number: str
    partner: Station
    band: str
    mode: Mode | None
    any_hour: bool
    is_assumed: bool
    chances: Chances
    windows: int
    thresholds: tuple[float, float]
    reaches: tuple[Reach, ...]
    modes: tuple[ModeTried, ...]
    tables: tuple[DishAndPower, ...]
    with_partner: DecibelWorth
    with_all: DecibelWorth
    roster: tuple[Workable, ...]
    is_wanted: bool = True


def make_need(inputs: Inputs, call: str, span: Span, progress: Progress) -> Need:
    """What a partner of the season needs over a span. Raises ValueError where `call` is none of its partners.

    Raises EphemerisUnavailable where the kernel is missing or does not cover the span.
    """
    pair = inputs.place_of(call)
    found = make_survey(inputs, span, progress, shifts=False)
    inputs = with_beginning(inputs, found.period)
    limits = inputs.season.policy.outcome_thresholds
    thresholds = (limits.workable, limits.strong)
    progress("Equipment tried at both ends")
    pairing = make_pairing(inputs, pair, span)
    chances = pairing.chances()
    progress("Agenda with a decibel more and less")
    with_partner, with_all = decibel_worth(inputs, found, call)
    return Need(
        inputs=inputs,
        span=span,
        number=plan_number(inputs, found.period),
        partner=inputs.partners[pair],
        band=inputs.bands[pair],
        mode=pair_mode(inputs, inputs.partners[pair], inputs.bands[pair]),
        any_hour=pairing.any_hour,
        is_assumed=rests_on_assumptions(inputs, pair),
        chances=chances,
        windows=int((found.windows["partner"] == call).sum()),
        thresholds=thresholds,
        reaches=reaches_of(pairing, thresholds) if chances.nights else (),
        modes=modes_tried(pairing) if chances.nights else (),
        tables=_tables(pairing) if chances.nights else (),
        with_partner=with_partner,
        with_all=with_all,
        roster=whom_it_works(inputs, call, span),
        is_wanted=is_wanted(inputs, found, call),
    )


def _tables(pairing: Pairing) -> tuple[DishAndPower, ...]:
    return tuple(table for end in ENDS if (table := dish_and_power(pairing, end)) is not None)
