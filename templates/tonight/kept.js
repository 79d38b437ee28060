// The page's tables and words, and what is kept of this night.
const data = JSON.parse(document.getElementById("data").textContent);
const words = data.words;
const MINUTE = 60000, HOUR = 3600000, MINUS = "\u2212";
// Just after a move is due it is the next action; further than this from the night the telephone's date is in doubt.
const MOVE_SHOWN = 15000, FAR = 24 * HOUR;
const at = (id) => document.getElementById(id);
const say = (key, values) => words[key].replace(/\{(\w+)\}/g, (all, name) => (name === "antenna" ? data.antenna : String(values[name])));

// What is kept of this night, on this telephone alone: offsets and the clock's correction.
const asOnPaper = { dial: data.dial_offset_deg, inclinometer: data.inclinometer_offset_deg };
let state = { offsets: { dial: null, inclinometer: null }, clock: null };
let keeps = true;
try {
  const kept = JSON.parse(localStorage.getItem(data.key));
  if (kept) {
    ["dial", "inclinometer"].forEach((name, place) => {
      const value = kept.offsets[name];
      if (Number.isFinite(value) && Math.abs(value) <= data.most_offset_deg[place]) state.offsets[name] = value;
    });
    if (Number.isFinite(kept.clock) && Math.abs(kept.clock) <= MINUTE / 2) state.clock = kept.clock;
  }
} catch (problem) { /* Told by the first attempt to keep something. */ }
function keep() {
  try {
    localStorage.setItem(data.key, JSON.stringify(state));
    keeps = true;
  } catch (problem) { keeps = false; }
}
const offset = (name) => (state.offsets[name] === null ? asOnPaper[name] : state.offsets[name]);
