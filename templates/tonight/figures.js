// Figures as the sheets print them.
function rint(value) {
  const low = Math.floor(value), rest = value - low;
  if (rest !== 0.5) return rest < 0.5 ? low : low + 1;
  return low % 2 === 0 ? low : low + 1;
}
const fixed = (value, digits) => (rint(value * 10 ** digits) / 10 ** digits).toFixed(digits);
function signed(value, digits) {
  const text = fixed(Math.abs(value), digits);
  return (value < 0 && Number(text) !== 0 ? MINUS : "") + text;
}
const turned = (value) => (value >= 0 && value < 360 ? value : ((value % 360) + 360) % 360);
const marked = (value) => rint(value / data.resolution_deg) * data.resolution_deg;
function dialsWords(place) {
  const azimuth = fixed(turned(marked(turned(place.azimuth + offset("dial")))), data.digits);
  const inclinometer = signed(marked(place.elevation + offset("inclinometer")), data.digits);
  return say("two_dials", { azimuth: azimuth, inclinometer: inclinometer });
}
function megahertz(hertz) {
  const step = hertz >= 3e9 ? 10 : 1;
  const whole = rint(hertz / step) * step, mega = Math.floor(whole / 1e6), rest = whole - mega * 1e6;
  const kilo = Math.floor(rest / 1e3), fine = rest - kilo * 1e3;
  return mega + "." + String(kilo).padStart(3, "0") + "\u00a0" +
    (step > 1 ? String(Math.floor(fine / 10)).padStart(2, "0") : String(fine).padStart(3, "0"));
}
function clock(ms, seconds) {
  const text = new Date(ms).toISOString();
  return text.slice(11, seconds || text.slice(17, 19) !== "00" ? 19 : 16);
}
function dated(ms) {
  const day = new Date(ms);
  return words.days[(day.getUTCDay() + 6) % 7] + " " + day.getUTCDate() + " " + words.months[day.getUTCMonth()] + " " +
    clock(ms) + " UTC";
}
function here(ms) {
  const rules = data.offsets_of_clock.filter((one) => one[0] <= ms);
  return clock(ms + (rules.length ? rules[rules.length - 1] : data.offsets_of_clock[0])[1] * MINUTE);
}
function span(ms) {
  const seconds = Math.max(Math.ceil(ms / 1000), 0);
  if (seconds === 1) return words.second;
  if (seconds < 100) return say("seconds", { count: seconds });
  const minutes = Math.floor(seconds / 60);
  if (minutes === 1) return words.minute;
  if (minutes < 100) return say("minutes", { count: minutes });
  return say("hours", { hours: Math.floor(minutes / 60), minutes: String(minutes % 60).padStart(2, "0") });
}
