// Rows of the timetable: when, what, and large what is dialled.
const row = (when, text, large, gone) => ({ when: when, text: text, large: large || "", gone: Boolean(gone) });
const timed = (ms, text, large) => Object.assign(row(clock(ms), text, large), { here: here(ms) });
function radioRows(slot, ms) {
  const listens = listensAt(slot, ms), sends = sendsAt(slot, ms);
  const drift = rint(dialled(slot, "listen_a_minute_hz", listens));
  const rate = drift === 0 ? words.steady : say(drift < 0 ? "lower" : "higher", { rate: Math.abs(drift) });
  return [
    row(words.now, say("listen_on", { rate: rate, time: clock(listens) }), megahertz(dialled(slot, "listen_hz", listens))),
    row(words.now, slot.send_moves ? say("send_on_set", { time: clock(sends) }) : words.send_on,
      megahertz(dialled(slot, "send_hz", sends))),
  ];
}
function moonRows(ms) {
  const place = moon(ms);
  if (!place) return [row(words.now, words.no_moon)];
  const text = words.moon_at + (place.trouble ? "; " + say("not_usable", { trouble: place.trouble }) : "");
  const found = [row(words.now, text, dialsWords(place))];
  if (place.echo && !place.trouble) {
    found.push(row(words.now, words.echo_on, megahertz(place.echo)));
    found.push(row(words.now, words.send_on, megahertz(data.echo_send_hz)));
  }
  return found;
}
// What comes after an instant: steps of the set-up, slots and fall-backs, by time.
function coming(ms) {
  const steps = data.steps.filter((one) => one.at > ms).map((one) => ({ at: one.at, step: one }));
  const slots = data.slots.filter((one) => one.start > ms).map((one) => ({ at: one.start, slot: one }));
  return steps.concat(slots).sort((one, other) => one.at - other.at);
}
function comingRow(one) {
  if (one.step) return timed(one.at, one.step.title);
  return timed(one.at, say(one.slot.again ? "again_begins" : "slot_begins", one.slot));
}
const nextSlot = (ms) => data.slots.filter((one) => one.start > ms).sort((one, other) => one.start - other.start)[0];

function inSlot(slot, ms) {
  const steps = moves(slot), rows = [];
  const gone = steps.filter((one) => one.from <= ms), ahead = steps.filter((one) => one.from > ms);
  const stands = gone[gone.length - 1], before = gone[gone.length - 2];
  if (before) rows.push(row(clock(stands.from), say("moved", { dials: stands.dials }), "", true));
  if (stands) {
    const trouble = stands.place.trouble;
    const text = words.stand_at + (trouble ? "; " + say("not_usable", { trouble: trouble }) : "");
    rows.push(row(words.now, text, stands.dials));
  } else rows.push(...moonRows(ms));
  rows.push(...radioRows(slot, ms));
  if (ahead.length) rows.push(row(clock(ahead[0].from), say("move_to", {}), ahead[0].dials));
  const next = nextSlot(ms);
  const follows = next && { call: next.call, number: next.number, time: clock(next.start) };
  rows.push(timed(slot.end, next ? say(next.again ? "slot_ends_again" : "slot_ends_next", follows) : words.slot_ends));
  if (next && next.feed !== slot.feed) rows.push(row("", say("feed_next", { words: next.feed.split(". ")[0] })));
  let action, left;
  if (!slot.turns) {
    action = say("no_turns", slot);
    left = say("slot_left", { time: clock(slot.end), span: span(slot.end - ms) });
  } else if (ms < opens(slot)) {
    const opening = opens(slot);
    action = say("nobody", { time: clock(opening, true) });
    left = say(slot.turns.opener === "home" ? "then_we" : "then_they", { call: slot.call, span: span(opening - ms) });
  } else {
    const now = turn(slot, ms), last = now.end >= slot.end, first = opens(slot);
    const key = (now.ours ? "we_send" : "they_send") + (last ? "_last" : "");
    action = say(key, { call: slot.call, time: clock(now.end, true) });
    if (ahead.length && ahead[0].from < now.end) action += " " + say("move_in_turn", { time: clock(ahead[0].from, true) });
    const count = Math.ceil((slot.end - first) / slot.turns.period_ms);
    const number = Math.floor((ms - first) / slot.turns.period_ms) + 1;
    // Periods that do not fill the hour evenly begin anew with it and are not counted.
    const even = HOUR % (2 * slot.turns.period_ms) === 0;
    left = say(even ? "period" : "span_left", { span: span(now.end - ms), number: number, count: count });
    if (before && ms - stands.from < MOVE_SHOWN) {
      left = say(now.ours ? "we_send_still" : "they_send_still", { call: slot.call, span: span(now.end - ms) });
      action = say("move_now", { dials: stands.dials });
    }
  }
  return { head: say(slot.again ? "head_again" : "head_slot", Object.assign({ night: data.night }, slot)),
    action: action, left: left, rows: rows, slot: slot };
}

function outside(ms) {
  const rows = moonRows(ms), ahead = coming(ms), next = nextSlot(ms);
  const begun = data.slots.some((one) => one.end <= ms && !one.again);
  const step = data.steps.filter((one) => one.at <= ms).pop();
  let action, left = "";
  if (!data.slots.length) {
    action = ms < data.edges[1] ? words.no_slot : words.over;
    left = ms < data.edges[1] ? words.no_slot_more : words.over_more;
  } else if (begun && next) {
    action = say(next.again ? "between_again" : "between", { call: next.call, number: next.number, time: clock(next.start) });
    left = say("span_left", { span: span(next.start - ms) });
  } else if (!step || (!ahead.length && ms > step.at + HOUR)) {
    action = step ? words.over : say("until_step", { title: ahead[0].step ? ahead[0].step.title : ahead[0].slot.call,
      time: ahead[0].at - ms > 12 * HOUR ? dated(ahead[0].at) : clock(ahead[0].at) });
    left = step ? words.over_more : say("span_left", { span: span(ahead[0].at - ms) });
  } else {
    action = step.title + ".";
    left = step.note + " " + (ahead.length ? say("then_step", { time: clock(ahead[0].at),
      title: ahead[0].step ? ahead[0].step.title : ahead[0].slot.call, span: span(ahead[0].at - ms) }) : words.last_step);
  }
  if (next) {
    const first = moves(next)[0];
    rows.push(...ahead.filter((one) => one.at < next.start).slice(0, 2).map(comingRow));
    if (first) rows.push(row(clock(first.from), say("move_to", {}), first.dials));
    rows.push(comingRow({ at: next.start, slot: next }));
    if (next.feed) rows.push(row("", say("feed", { words: next.feed })));
    rows.push(...radioRows(next, ms).map((one) => Object.assign(one, { when: clock(next.start) })));
  } else {
    rows.push(...ahead.slice(0, 3).map(comingRow));
  }
  return { head: data.night, action: action, left: left, rows: rows, slot: null };
}

function picture(ms) {
  const on = data.slots.filter((one) => one.start <= ms && ms < one.end).sort((one, other) => one.again - other.again);
  return on.length ? inSlot(on[0], ms) : outside(ms);
}
