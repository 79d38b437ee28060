"""What it would take to work a partner, in words: nights, the least that does at either end, modes, a decibel.

From the values of the room `need`. Sentences for the operator, in home's words; figures as `formats` writes them.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.need.reaching import DISH, NOISE, ModeTried, Reach
from pipeline.need.roster import Workable
from pipeline.pairs.assumed import assumed_figures, skyline_is_assumed
from pipeline.record.model import MADE
from pipeline.wording import formats

if TYPE_CHECKING:
    from pipeline.need.need import Need

NIGHTS_NAMED, MODES_NAMED, SMALL = 6, 3, 0.05
FIGURES = {DISH: "dish, m", NOISE: "noise figure, dB"}
OTHER_FIGURE = "power, W"
NOT_ALONE = "not by this alone"
FIGURE_NAMES = {
    "power_w": "power",
    "antenna": "antenna",
    "noise_figure_db": "noise figure",
    "loss_before_preamplifier_db": "loss before the preamplifier",
}


TRIED = (
    "One figure is changed at a time, the others stay as the files have them, and the best night is looked at. Each "
    "dish is worked out anew with its beam, its noise and its windows. A figure that is typed counts as stated and "
    "carries less doubt than an assumed one."
)
CHANCES = "Chances are those of a slot with both ends on the air, the doubt of station figures within them."
MEDIAN = "The median night is that of all nights on which a slot fits."


def heading_words(need: Need) -> str:
    """`What it takes to work QF4LUM`."""
    return f"What it takes to work {need.partner.call}"


def nights_words(need: Need) -> str:
    """How many nights there are, and how good."""
    call, limits = need.partner.call, need.inputs.season.policy.outcome_thresholds.limits
    if not need.windows:
        return f"The Moon never stands above both horizons at once: no equipment opens a window with {call}."
    if need.mode is None:
        return f"You and {call} share no mode on {formats.band(need.band)}: the modes below would make a start."
    if not need.chances.nights:
        return "There is a window, but none in which a slot fits: minimum elevation, skyline or Sun stand against it."
    where = "at whatever hour, for no slot lies within both ends' hours" if need.any_hour else "within both ends' hours"
    nights = formats.count(len(need.chances.nights), "night")
    best = formats.day(need.chances.nights_from(0.0)[0])
    chance = formats.chance(need.chances.best, limits)
    if len(need.chances.nights) == 1:
        return f"A slot fits on {nights} {where}: {best}, with a chance of {chance}.{_one_night(need)}"
    return (
        f"A slot fits on {nights} {where}. The best, {best}, has a chance of {chance}, the median night "
        f"{formats.chance(need.chances.median, limits)}. {_how_many(need)}"
    )


def _one_night(need: Need) -> str:
    return "" if need.chances.best >= need.thresholds[0] else " It is not workable."


def _how_many(need: Need) -> str:
    """How many nights are workable, and how many strong."""
    workable, strong = (len(need.chances.nights_from(limit)) for limit in need.thresholds)
    if not workable:
        return "None of them is workable."
    if need.is_assumed:
        return f"Workable or better: {workable}; strong: none while figures or a skyline are assumed."
    return f"Workable or better: {workable}; strong: {strong}."


def named_nights(need: Need) -> str:
    """The best nights with their chances; empty where none is marginal, or where there is but one."""
    if len(need.chances.nights) == 1:
        return ""
    limits = need.inputs.season.policy.outcome_thresholds
    good = need.chances.nights_from(limits.marginal)
    chance = dict(zip(need.chances.nights, need.chances.chance, strict=True))
    named = [f"{formats.day(night)} {formats.chance(chance[night], limits.limits)}" for night in good[:NIGHTS_NAMED]]
    more = f" and {len(good) - NIGHTS_NAMED} more" if len(good) > NIGHTS_NAMED else ""
    return f"As things stand: {', '.join(named)}{more}." if named else ""


def figure_words(reach: Reach) -> str:
    """`dish, m`."""
    return FIGURES.get(reach.figure, OTHER_FIGURE)


def reach_heads(need: Need) -> tuple[str, str]:
    """What stands over the least figures: words, or the chance itself where nothing is called strong."""
    strong = formats.chance(need.thresholds[1]) + " from" if need.is_assumed else "strong from"
    return "workable from", strong


def cells_title(need: Need) -> str:
    """What stands in the cells."""
    one = len(need.chances.nights) == 1
    return "chance in percent" if one else "chance in percent, best night over median night"


def cells_key(need: Need) -> str:
    """How the cells are marked."""
    best = "" if len(need.chances.nights) == 1 else " on the best night"
    strong = (
        "Nothing is called strong while figures or a skyline are assumed; bold: workable"
        if need.is_assumed
        else f"Tinted: strong{best}; bold: workable"
    )
    return (
        f"{strong}; framed: what the file has. <5 is less than five in a hundred, >95 more than 95, ~60 not quite 60."
    )


def reach_words(reach: Reach, place: int) -> str:
    """The least that does, as a figure; or that this figure alone does not."""
    value = reach.values[place]
    return NOT_ALONE if value is None else formats.plain(value)


def mode_words(need: Need) -> tuple[str, ...]:
    """Modes that would better the best night, those that ask least of the stations first."""
    limits = need.inputs.season.policy.outcome_thresholds
    worth = [one for one in need.modes if one.chance >= limits.workable and one.chance > need.chances.best + SMALL]
    worth.sort(key=lambda one: (len(one.changes), -one.chance))
    return tuple(_mode(need, one, limits.limits) for one in worth[:MODES_NAMED])


def _mode(need: Need, one: ModeTried, limits: tuple[float, ...]) -> str:
    home = need.inputs.home.call
    lacking = [change.split(".", 1)[0] for change in one.changes]
    who = "you" if lacking == [home] else need.partner.call if home not in lacking else f"you and {need.partner.call}"
    return f"{one.mode}, which {who} would need: {formats.chance(one.chance, limits)} on the best night"


def decibel_words(need: Need) -> tuple[str, ...]:
    """What a decibel is worth, with this partner and with all."""
    call, one, every = need.partner.call, need.with_partner, need.with_all
    worked = any(one.partner == call and one.outcome == MADE for one in need.inputs.record.answers)
    gone = f"{call} is worked" if worked else f"No contact with {call} is wanted any more"
    return (
        f"{gone}: the agenda has no slot for it, so that a decibel there changes nothing; the page tells what another "
        "contact would take."
        if not need.is_wanted
        else f"One decibel more on both ways with {call} gains {_change(one.more - one.now)} contacts, one less costs "
        f"{_change(one.now - one.less)}, of the {formats.contacts(one.now)} that the whole agenda promises.",
        f"One decibel more on all ways gains {_change(every.more - every.now)}, one less costs "
        f"{_change(every.now - every.less)}.",
    )


def _change(contacts: float) -> str:
    return f"{max(contacts, 0.0):.2f}"


def roster_words(one: Workable, limits: tuple[float, ...], marginal: float) -> str:
    """How one other station stands: its best chance and night, or why there is none."""
    if not one.shares_band:
        return "no common band"
    if not one.windows:
        return "no window: never above both horizons"
    if not one.shares_mode:
        return "no common mode"
    if one.night is None or one.chance < marginal:
        return f"{formats.chance(one.chance, limits)}: out of reach"
    return f"{formats.chance(one.chance, limits)} on {formats.day(one.night)}"


def assumed_words(need: Need) -> tuple[str, ...]:
    """What the figures rest on that no file states, and what they mean."""
    inputs, lines = need.inputs, []
    for station in (inputs.home, need.partner):
        named = [FIGURE_NAMES[name] for name in assumed_figures(station, need.band)]
        named += ["skyline"] if skyline_is_assumed(station) else []
        if named:
            own = station is inputs.home
            changes = f"written into {Path(station.file).name} they change" if own else "an answer from there changes"
            lines.append(f"Assumed of {station.call}: {formats.listed(named)}; {changes} this page.")
    told = [TRIED] if need.reaches else []
    told += [CHANCES, MEDIAN] if len(need.chances.nights) > 1 else [CHANCES]
    lines.append(" ".join(told))
    return tuple(lines)


def table_title(end: str, need: Need) -> str:
    """`Your dish and power` or `Dish and power at QF4LUM`."""
    return "Your dish and power" if end == "home" else f"Dish and power at {need.partner.call}"


def changes_to_try(need: Need) -> Sequence[str]:
    """The changes of the first threshold that no figure meets yet, as `--what-if` takes them."""
    place = 0 if need.chances.best < need.thresholds[0] else 1
    return [one.changes[place] for one in need.reaches if one.changes[place]]
