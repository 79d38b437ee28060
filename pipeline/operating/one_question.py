"""The one question that goes with a letter: that of a plan's questions whose answer would change most.

A sky can only be asked about where the partner has a slot; else the next thing is asked.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.operating.sky_question import sky_question
from pipeline.outlook.questions import Thing

if TYPE_CHECKING:
    from pipeline.plan.views import PartnerView
    from pipeline.record.model import AskedSky


def one_question(view: PartnerView) -> Thing | AskedSky | None:
    """What to ask, the sky with its azimuths; a sky that hardly matters is asked about last. None where all is told."""
    for one in view.questions:
        if one.thing is not Thing.SKY:
            return one.thing
        asked = sky_question(view)
        if asked is not None:
            return asked
    return sky_question(view)
