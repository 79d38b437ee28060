"""What looks odd in a station file, in words: every kind has its sentence, with the figures that it is about."""

from __future__ import annotations

import pytest

from pipeline.explain.oddities import (
    BeamInsideMoon,
    BeyondUsual,
    GainAgainstBeamwidth,
    GroundGainUnused,
    LinearAmongCircular,
    ModesUnknown,
    Odd,
    OddFigure,
    Oddity,
    PlaceFromLocator,
    PointingError,
    PowerBeyondBattery,
    PowerGreat,
    SkylineHigh,
)
from pipeline.inputs.model import HorizonPoint
from pipeline.wording.plausibility import oddity_words

TOLD = (
    (OddFigure(Odd.EFFICIENCY_HIGH, 0.85), "aperture_efficiency 0.85 is more than dishes reach;"),
    (OddFigure(Odd.EFFICIENCY_LOW, 0.2), "aperture_efficiency 0.2 is low;"),
    (OddFigure(Odd.DISH_SMALL, 4.15), "a dish of 4.2 wavelengths is small"),
    (GainAgainstBeamwidth(50.0, 2.0, 40.44), "a gain of 50.0 dBi and a beamwidth of 2 degrees cannot both be;"),
    (GainAgainstBeamwidth(50.0, 2.0, 40.44), "has 40.4 dBi at most."),
    (BeamInsideMoon(0.289, 1.23), "the beam of 0.29 degrees is narrower than the Moon: own echoes lose 1.2 dB,"),
    (PointingError(Odd.POINTING_BEYOND_BEAM, 1.0, 0.675, 26.3, 0.135), "1 is no less than the beamwidth of 0.68"),
    (
        PointingError(Odd.POINTING_COSTS, 0.3, 0.675, 2.37, 0.135),
        "0.3 costs 2.4 dB each way in a beam of 0.68 degrees;",
    ),
    (PointingError(Odd.POINTING_COSTS, 0.3, 0.675, 2.37, 0.13), "under 0.13 is usual."),
    (Oddity(Odd.POINTING_NEVER_ERRS), "a dish that never errs;"),
    (PowerGreat(1500.0, 24_048.0, 120.0), "power_w 1500 is a great deal at 24,048 MHz; at the feed, 120 W"),
    (PowerBeyondBattery(50.0, 60.0), "power_w 50 from 60 W off the battery would be an efficiency of 83 %;"),
    (BeyondUsual(Odd.RECEIVER_NOISELESS, 0.0, 0.5), "a receiver without noise; 0.5 dB is hardly beaten"),
    (BeyondUsual(Odd.NOISE_FIGURE_LOW, 0.3, 0.5), "noise_figure_db 0.3 is very low; 0.5 dB is hardly beaten"),
    (OddFigure(Odd.NOISE_FIGURE_HIGH, 6.0), "noise_figure_db 6 is high for this band; is a preamplifier"),
    (OddFigure(Odd.LOSS_AHEAD_HIGH, 2.0), "loss_before_preamplifier_db 2 costs signal and adds noise;"),
    (Oddity(Odd.SPILLOVER_NONE), "sees no ground at all;"),
    (OddFigure(Odd.SPILLOVER_HIGH, 0.4), "spillover_fraction 0.4 sees much warm ground;"),
    (GroundGainUnused(3.0, ("2m", "70cm")), "ground_gain_db 3 is not used on this band, only on 2m and 70cm."),
    (BeyondUsual(Odd.OUTSIDE_PASSBAND, 5000.0, 1250.0), "frequency_accuracy_hz 5000 may leave the signal outside"),
    (BeyondUsual(Odd.OUTSIDE_DECODER_SEARCH, 1000.0, 200.0), "wider than decoders usually search, some 200 Hz"),
    (ModesUnknown(("RTTY",)), "RTTY has no line in the mode table"),
    (ModesUnknown(("RTTY", "PSK")), "RTTY, PSK have no line in the mode table"),
    (Oddity(Odd.CIRCULAR_AMONG_LINEAR), "loses 3 dB with linear stations"),
    (LinearAmongCircular("vertical"), "polarization vertical loses 3 dB with circular stations"),
    (
        SkylineHigh((HorizonPoint(azimuth_deg=40.0, elevation_deg=47.5), HorizonPoint(51.0, 31.0)), 30.0),
        "horizon points above 30 degrees: 47.5 at azimuth 40, 31 at azimuth 51;",
    ),
    (OddFigure(Odd.SKYLINE_DEEP, -6.0), "the horizon falls to -6 degrees: only a steep mountain"),
    (OddFigure(Odd.MINIMUM_ELEVATION_HIGH, 40.0), "minimum_elevation_deg 40 gives away most of each Moon pass;"),
    (OddFigure(Odd.MOUNT_LOW, 20.0), "maximum_elevation_deg 20 is a mount that only looks low;"),
    (PlaceFromLocator("GF25cl", 4.4), "the place comes from locator GF25cl, good to 4 km;"),
)


@pytest.mark.parametrize(("oddity", "words"), TOLD, ids=lambda one: one if isinstance(one, str) else one.kind.name)
def test_an_oddity_in_words(oddity: Oddity, words: str) -> None:
    told = oddity_words(oddity)
    assert words in told
    # One sentence on one line, with nothing left to fill in.
    assert told[-1] in ".?"
    assert not set("{}\n") & set(told)


def test_every_kind_has_its_words() -> None:
    assert {oddity.kind for oddity, _ in TOLD} == set(Odd)
