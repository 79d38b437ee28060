"""Why a pair has no window, as a sentence: from the kind of cause and what hides the Moon at which end."""

from __future__ import annotations

from pipeline.windows.no_window import ENDS, Hidden, NoWindow, NoWindowKind
from pipeline.windows.rules import HORIZON, MINIMUM_ELEVATION, MOUNT_ELEVATION


def no_window_words(no_window: NoWindow, home: str, partner: str) -> str:
    """One sentence without its full stop; `home` and `partner` are the calls."""
    call = dict(zip(ENDS, (home, partner), strict=True)).get(no_window.end, "")
    if no_window.kind is NoWindowKind.NEVER_RISES:
        return f"the Moon never rises at {call} in this period"
    if no_window.kind is NoWindowKind.NEVER_ABOVE_BOTH:
        short = f"{no_window.below_horizon_deg:.1f} degrees below its own"
        return f"the Moon is never above both horizons: at best one end has it {short}"
    if no_window.kind is NoWindowKind.BEFORE_FIRST_NIGHT:
        return "the only window of this period began before its first night"
    hidden = [_hidden(one, "" if place else call) for place, one in enumerate(no_window.hidden_by)]
    if no_window.kind is NoWindowKind.ALWAYS_HIDDEN:
        return f"the Moon is above both level horizons only while it is {' or '.join(hidden)}"
    return f"whenever {home} sees the Moon, it is {' or '.join(hidden)}"


def _hidden(hidden: Hidden, call: str) -> str:
    """What hides the Moon; without a call the station is named already."""
    of, place = (f"{call}'s", f"at {call}") if call else ("its", "there")
    arc = f"at azimuth {hidden.azimuth_from_deg:.0f} to {hidden.azimuth_to_deg:.0f} degrees"
    if hidden.rule == HORIZON:
        return f"behind {of} horizon {arc}"
    if hidden.rule == MINIMUM_ELEVATION:
        return f"below {of} minimum elevation of {hidden.minimum_elevation_deg:g} degrees"
    if hidden.rule == MOUNT_ELEVATION:
        return f"higher than {of} mount reaches"
    return f"outside {of} mount's reach {place}, {arc}"
