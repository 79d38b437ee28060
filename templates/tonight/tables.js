// Tables with a value a minute; straight lines between.
function between(values, place, next) {
  const low = Math.min(Math.floor(place), values.length - 1);
  const high = Math.min(low + 1, values.length - 1);
  return values[low] + (place - low) * next(values[high] - values[low]);
}
const straight = (step) => step;
const shortWay = (step) => ((step + 540) % 360 + 360) % 360 - 180;
function moon(ms) {
  for (const run of data.moon) {
    const place = (ms - run.start) / MINUTE;
    if (place < 0 || place > run.azimuth_deg.length - 1) continue;
    return {
      azimuth: between(run.azimuth_deg, place, shortWay),
      elevation: between(run.elevation_deg, place, straight),
      trouble: run.trouble[Math.floor(place)],
      echo: run.echo_hz && between(run.echo_hz, place, straight),
    };
  }
  return null;
}
function dialled(slot, name, ms) {
  return between(slot[name], Math.max(ms - slot.start, 0) / MINUTE, straight);
}
