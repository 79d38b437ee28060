"""What looks odd in a station file, as a sentence that says what would be usual: from the kind and its figures."""

from __future__ import annotations

from pipeline.explain.oddities import (
    GroundGainUnused,
    ModesUnknown,
    Odd,
    Oddity,
    PowerBeyondBattery,
    SkylineHigh,
)
from pipeline.wording import formats

# `one` is the oddity with its figures.
SENTENCES = {
    Odd.EFFICIENCY_HIGH: "aperture_efficiency {one.value:g} is more than dishes reach; 0.5 to 0.7 is usual.",
    Odd.EFFICIENCY_LOW: "aperture_efficiency {one.value:g} is low; 0.5 to 0.7 is usual for a dish lit as it should be.",
    Odd.DISH_SMALL: "a dish of {one.value:.1f} wavelengths is small for the formulas of dishes; a measured gain_dbi"
    " would be surer.",
    Odd.GAIN_AGAINST_BEAMWIDTH: "a gain of {one.gain_dbi:.1f} dBi and a beamwidth of {one.beamwidth_deg:.2g} degrees"
    " cannot both be; a beam so wide has {one.most_dbi:.1f} dBi at most.",
    Odd.BEAM_INSIDE_MOON: "the beam of {one.beamwidth_deg:.2f} degrees is narrower than the Moon: own echoes lose"
    " {one.echo_loss_db:.1f} dB, and the beam can be on the Moon and miss its middle.",
    Odd.POINTING_BEYOND_BEAM: "pointing_error_deg {one.error_deg:g} is no less than the beamwidth of"
    " {one.beamwidth_deg:.2g} degrees; under {one.usual_deg:.2g} would keep the loss under half a decibel.",
    Odd.POINTING_COSTS: "pointing_error_deg {one.error_deg:g} costs {one.loss_db:.1f} dB each way in a beam of"
    " {one.beamwidth_deg:.2g} degrees; under {one.usual_deg:.2g} is usual.",
    Odd.POINTING_NEVER_ERRS: "pointing_error_deg 0 is a dish that never errs; a fifth of the beamwidth or less is"
    " usual.",
    Odd.POWER_GREAT: "power_w {one.power_w:g} is a great deal at {one.frequency_mhz:,.0f} MHz; at the feed,"
    " {one.seldom_w:g} W is seldom exceeded there.",
    Odd.RECEIVER_NOISELESS: "noise_figure_db 0 is a receiver without noise; {one.limit:g} dB is hardly beaten at this"
    " frequency.",
    Odd.NOISE_FIGURE_LOW: "noise_figure_db {one.value:g} is very low; {one.limit:g} dB is hardly beaten at this"
    " frequency.",
    Odd.NOISE_FIGURE_HIGH: "noise_figure_db {one.value:g} is high for this band; is a preamplifier at the feed meant?",
    Odd.LOSS_AHEAD_HIGH: "loss_before_preamplifier_db {one.value:g} costs signal and adds noise; with the preamplifier"
    " at the feed 0.1 to 0.3 is usual.",
    Odd.SPILLOVER_NONE: "spillover_fraction 0 is an antenna that sees no ground at all; 0.03 to 0.15 is usual.",
    Odd.SPILLOVER_HIGH: "spillover_fraction {one.value:g} sees much warm ground; 0.03 to 0.15 is usual.",
    Odd.OUTSIDE_PASSBAND: "frequency_accuracy_hz {one.value:g} may leave the signal outside the receiver's passband;"
    " the partner has to search, so agree a beacon or a reference.",
    Odd.OUTSIDE_DECODER_SEARCH: "frequency_accuracy_hz {one.value:g} is wider than decoders usually search, some"
    " {one.limit:g} Hz to either side; tell the partner, or lock to a reference.",
    Odd.CIRCULAR_AMONG_LINEAR: "polarization circular loses 3 dB with linear stations, which are the most at this"
    " frequency.",
    Odd.LINEAR_AMONG_CIRCULAR: "polarization {one.polarization} loses 3 dB with circular stations, which are the most"
    " at this frequency.",
    Odd.SKYLINE_DEEP: "the horizon falls to {one.value:g} degrees: only a steep mountain looks so far down.",
    Odd.MINIMUM_ELEVATION_HIGH: "minimum_elevation_deg {one.value:g} gives away most of each Moon pass; 0 to 10 is"
    " usual.",
    Odd.MOUNT_LOW: "maximum_elevation_deg {one.value:g} is a mount that only looks low; 85 or 90 is usual.",
    Odd.PLACE_FROM_LOCATOR: "the place comes from locator {one.locator}, good to {one.uncertainty_km:.0f} km; for"
    " landmarks and for a dish's alignment coordinates are needed.",
}


def oddity_words(oddity: Oddity) -> str:
    """One sentence; keys of the file are named as they stand there."""
    match oddity:
        case PowerBeyondBattery(power_w=power, drawn_w=drawn):
            return (
                f"power_w {power:g} from {drawn:.0f} W off the battery would be an efficiency of"
                f" {power / drawn * 100:.0f} %; 15 to 50 % is usual, so transmit_a may be short."
            )
        case GroundGainUnused(value=gain, bands=bands):
            return f"ground_gain_db {gain:g} is not used on this band, only on {formats.listed(bands)}."
        case ModesUnknown(modes=modes):
            verb = "has" if len(modes) == 1 else "have"
            return f"{', '.join(modes)} {verb} no line in the mode table, so no margin is worked out for it."
        case SkylineHigh(points=points, limit_deg=limit):
            where = ", ".join(f"{point.elevation_deg:g} at azimuth {point.azimuth_deg:g}" for point in points)
            return f"horizon points above {limit:g} degrees: {where}; are azimuth and elevation in their places?"
    return SENTENCES[oddity.kind].format(one=oddity)
