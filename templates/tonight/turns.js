// The steps of the dish in a slot: each stands from half a step before its instant to half a step after it.
function moves(slot) {
  return slot.aims.map((aim) => ({ aim: aim, from: aim - slot.step_ms / 2, place: moon(aim) }))
    .filter((one) => one.place)
    .map((one) => Object.assign(one, { dials: dialsWords(one.place) }))
    .filter((one, number, all) => number === 0 || one.dials !== all[number - 1].dials);
}
// Whose turn it is: periods are counted from the full hour, the opener has the first of each two.
function turn(slot, ms) {
  const turns = slot.turns, hour = Math.floor(ms / HOUR) * HOUR;
  const number = Math.floor((ms - hour) / turns.period_ms);
  const start = hour + number * turns.period_ms;
  const end = Math.min(start + turns.period_ms, hour + HOUR, slot.end);
  const openers = number % 2 === 0;
  return { start: start, end: end, ours: openers === (turns.opener === "home") };
}
function opens(slot) {
  let found = slot.start;
  const period = slot.turns.period_ms;
  for (let tries = 0; tries < 4; tries += 1) {
    const hour = Math.floor(found / HOUR) * HOUR, number = Math.ceil((found - hour) / period);
    const even = hour + (number + number % 2) * period;
    if (even < hour + HOUR) return even;
    found = hour + HOUR;
  }
  return slot.end;
}
const setFor = (now) => (now.start + now.end) / 2;
// The dial is set for the middle of the period in which we listen: this one, or the next where we send.
function listensAt(slot, ms) {
  if (ms < slot.start || !slot.turns) return Math.max(ms, slot.start);
  const from = Math.max(ms, opens(slot));
  if (from >= slot.end) return slot.start;
  const now = turn(slot, from);
  if (!now.ours || now.end >= slot.end) return setFor(now);
  return setFor(turn(slot, now.end));
}
function sendsAt(slot, ms) {
  if (ms < slot.start || !slot.turns) return Math.max(ms, slot.start);
  const from = Math.max(ms, opens(slot));
  if (from >= slot.end) return slot.start;
  const now = turn(slot, from);
  if (now.ours || now.end >= slot.end) return setFor(now);
  return setFor(turn(slot, now.end));
}
