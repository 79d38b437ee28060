"""What looks odd in a station file, as a sentence that says what would be usual: from the kind and its figures."""

from __future__ import annotations

from pipeline.explain.oddities import (
    AnswersLate,
    BandOfNobody,
    ClockNotOfPlace,
    GroundGainUnused,
    HeightAgainstTerrain,
    HoursTurned,
    LatestByDay,
    ModesUnknown,
    MountNarrow,
    NothingWanted,
    Odd,
    Oddity,
    PlaceAgainstZone,
    PowerBeyondBattery,
    SkylineByTerrain,
    SkylineHigh,
    TemplateLeft,
    Unusual,
    ZoneWithoutSummer,
)
from pipeline.explain.slip_values import Slip
from pipeline.inputs.horizon import Terrain
from pipeline.inputs.zone_of_place import clock_told
from pipeline.wording import formats
from pipeline.wording.slips_of_pen import slip_words, unit_asked
from pipeline.wording.terrain import tiles_words

# `one` is the oddity with its figures.
SENTENCES = {
    Odd.EFFICIENCY_HIGH: "aperture_efficiency {one.value:g} is more than dishes reach; 0.5 to 0.7 is usual.",
    Odd.EFFICIENCY_LOW: "aperture_efficiency {one.value:g} is low; 0.5 to 0.7 is usual for a dish lit as it should be.",
    Odd.DISH_SMALL: "a dish of {one.value:.1f} wavelengths is small for the formulas of dishes; a measured gain_dbi"
    " would be surer.",
    Odd.GAIN_AGAINST_BEAMWIDTH: "a gain of {one.gain_dbi:.1f} dBi and a beamwidth of {one.beamwidth_deg:.2g} degrees"
    " cannot both be; a beam so wide has {one.most_dbi:.1f} dBi at most, and with the gain goes beamwidth_deg"
    " {one.usual_deg:.3g}.",
    Odd.BEAM_INSIDE_MOON: "the beam of {one.beamwidth_deg:.2f} degrees is narrower than the Moon: own echoes lose"
    " {one.echo_loss_db:.1f} dB, and the beam can be on the Moon and miss its middle.",
    Odd.POINTING_BEYOND_BEAM: "pointing_error_deg {one.error_deg:g} is no less than the beamwidth of"
    " {one.beamwidth_deg:.2g} degrees; under {one.usual_deg:.2g} would keep the loss under half a decibel{asked}",
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
    Odd.NOISE_FIGURE_HIGH: "noise_figure_db {one.value:g} is high for this band; is a preamplifier at the feed"
    " meant{asked}",
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
    " usual{asked}",
    Odd.MOUNT_LOW: "maximum_elevation_deg {one.value:g} is a mount that only looks low; 85 or 90 is usual.",
    Odd.MOUNT_NARROW: "mount: clockwise from {one.from_deg:g} to {one.to_deg:g} is {one.width_deg:g} degrees; is from"
    " {one.to_deg:g} to {one.from_deg:g}, {past}, meant?",
    Odd.PLACE_FROM_LOCATOR: "the place comes from locator {one.locator}, good to {one.uncertainty_km:.0f} km; for"
    " landmarks and for a dish's alignment coordinates are needed.",
    Odd.LOCATOR_COARSE: "locator {one.locator} is a whole field, the place good to {one.uncertainty_km:.0f} km only:"
    " times may be an hour off; ask for the square at least, four characters such as {one.locator}25.",
    Odd.POWER_SMALL: "power_w {one.value:g} is very little; watts at the feed are meant, and {one.limit:g} or more is"
    " usual{asked}",
    Odd.DISH_LARGE: "dish_diameter_m {one.value:g} metres is larger than nearly all{asked}",
    Odd.GAIN_LARGE: "gain_dbi {one.value:g} would be a dish of {one.limit:.0f} m on this band; is the band the right"
    " one?",
    Odd.GAIN_SMALL: "a gain of {one.value:.1f} dBi is small for the Moon on this band; {one.limit:g} or more is usual."
    " Is the diameter in metres, the gain over an isotropic antenna?",
    Odd.GAIN_BELOW_BEAMWIDTH: "a gain of {one.gain_dbi:.1f} dBi with a beamwidth of {one.beamwidth_deg:.2g} degrees:"
    " a beam so narrow has up to {one.most_dbi:.1f} dBi; one of the two is likely wrong.",
    Odd.HEIGHT_GREAT: "position.height_m {one.value:g} metres is higher than nearly all stations{asked}",
    Odd.LANDMARK_AT_DISH: "the landmark {one.name} stands at the dish itself, so there is no bearing to it.",
    Odd.LANDMARK_OUT_OF_SIGHT: "the landmark {one.name} is {one.distance_km:,.0f} km away, and one sees"
    " {one.sight_km:,.0f} km at most; are its latitude and longitude right, minus signs too?",
    Odd.PLACE_OF_HOME: "this station stands where home stands; is its position still home's?",
}
# How a place far from its zone is most likely meant.
MEANT = {
    Odd.LONGITUDE_SIGN: "west is negative: is longitude_deg {one.longitude_deg:g} meant?",
    Odd.LATITUDE_SIGN: "south is negative: is latitude_deg {one.latitude_deg:g} meant?",
    Odd.BOTH_SIGNS: "south and west are negative: are latitude_deg {one.latitude_deg:g} and longitude_deg"
    " {one.longitude_deg:g} meant?",
    Odd.SWAPPED: "latitude and longitude look swapped: are latitude_deg {one.latitude_deg:g} and longitude_deg"
    " {one.longitude_deg:g} meant?",
    Odd.FAR_FROM_ZONE: "one of the two is likely wrong; by the place {one.better} is the zone{asked}",
}


def oddity_words(oddity: Oddity) -> str:
    """One sentence; keys of the file are named as they stand there."""
    match oddity:
        case AnswersLate(due=due, over=over, nights=nights, early=early):
            when = "after the last night" if over == nights else f"when {over} of {nights} nights are over"
            return (
                f"letters.reply_by is {due}, {when}; answers are of use before the first slot, by {early} for instance."
            )
        case Unusual(key=key, value=figure, low=low, high=high, meant=meant, unit=unit):
            return f"{key} is {figure:g}, and {low:g} to {high:.4g} is usual{unit_asked(unit, meant)}"
        case Slip():
            return slip_words(oddity)
        case HoursTurned(begin=begin, end=end, evening=evening):
            told = f"{begin:%H:%M} to {end:%H:%M}"
            if evening is not None:
                return f"hours from {told} go on until the next day; is {evening:%H:%M} meant for {end:%H:%M}?"
            return f"hours from {told} go on until the next day; are {end:%H:%M} to {begin:%H:%M} meant?"
        case NothingWanted(calls=calls):
            wanted = formats.listed(calls)
            return f"contacts_wanted is 0 for {wanted}: nothing is planned there; it counts the contacts still wanted."
        case LatestByDay(hour=hour, meant=meant):
            return f"policy.latest_hour_on_work_nights is {hour:%H:%M}, by day; is {meant:%H:%M} meant?"
        case BandOfNobody(band=band, file=file, bands=bands):
            return (
                f"the band is {band}, and {file} has {formats.listed(bands)} alone: all its equipment on {band} is"
                f" assumed; write {band} there below bands, or band: {bands[0]} here."
            )
        case PlaceAgainstZone():
            far = f"the place, {oddity.locator}, is {oddity.away_km:,.0f} km from the city of time_zone {oddity.zone}; "
            asked = f"; or is {oddity.exchanged} meant?" if oddity.exchanged else "."
            return far + MEANT[oddity.kind].format(one=oddity, asked=asked)
        case TemplateLeft(keys=keys):
            verb = "is" if len(keys) == 1 else "are"
            return f"{formats.listed(list(keys))} {verb} still the example's; write your own."
        case ClockNotOfPlace(zone=zone, better=better, exchanged=exchanged):
            asked = f"; or is {exchanged} meant?" if exchanged else "."
            return (
                f"time_zone is {zone} ({clock_told(zone)}); by the place it is {better} ({clock_told(better)}){asked}"
            )
        case ZoneWithoutSummer(zone=zone, ahead_h=None, better=better):
            return f"time_zone {zone} is an old name for several countries' clock; by the place {better} is the zone."
        case ZoneWithoutSummer(zone=zone, ahead_h=hours, better=better) if hours is not None:
            unit = "hour" if abs(hours) == 1 else "hours"
            side = "with UTC" if not hours else f"{abs(hours):g} {unit} {'ahead of' if hours > 0 else 'behind'} UTC"
            return f"time_zone {zone} is always {side} and knows no summer time; by the place {better} is the zone."
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
        case SkylineHigh(points=points, limit_deg=limit, tenths=tenths):
            where = ", ".join(f"{point.elevation_deg:g} at azimuth {point.azimuth_deg:g}" for point in points)
            points_high = f"horizon points above {limit:g} degrees: {where}"
            if tenths:
                whole = ", ".join(f"{one.elevation_deg / 10:g} at azimuth {one.azimuth_deg:g}" for one in tenths)
                return f"{points_high}; are azimuth and elevation in their places, or are these tenths, {whole}?"
            turned = [one for one in points if one.azimuth_deg <= limit]
            if turned and len(turned) == len(points):
                each = (f"azimuth_deg {one.elevation_deg:g} with elevation_deg {one.azimuth_deg:g}" for one in turned)
                return f"{points_high}; are azimuth and elevation exchanged, and is {formats.listed(list(each))} meant?"
            return f"{points_high}; are azimuth and elevation in their places, and the heights degrees, not metres?"
        case SkylineByTerrain(terrain=terrain):
            return f"the skyline comes from terrain: {tiles_words(terrain)}. {_top_words(terrain)}"
        case MountNarrow(from_deg=first, to_deg=last):
            past = "past north" if first <= last else "past south"
            return SENTENCES[oddity.kind].format(one=oddity, past=past)
        case HeightAgainstTerrain(height_m=height, ground_m=ground):
            return f"height_m is {height:g}, but the elevation tiles have {ground:.0f} m there; is the place right?"
    if oddity.kind is Odd.NOISE_FIGURE_HIGH:
        meant = getattr(oddity, "meant", None)
        return SENTENCES[oddity.kind].format(one=oddity, asked="?" if meant is None else f", or {meant:g}?")
    asked = unit_asked(getattr(oddity, "unit", ""), getattr(oddity, "meant", None))
    return SENTENCES[oddity.kind].format(one=oddity, asked=asked)


def _top_words(terrain: Terrain) -> str:
    away = "" if terrain.top_km is None else f", {terrain.top_km:.1f} km away"
    top = terrain.top
    return f"It is highest at azimuth {top.azimuth_deg:.0f}: {top.elevation_deg:.1f} degrees{away}. Look, and compare."
