
(function () {
  "use strict";
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
      clock(ms);
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

  // Onto the glass; only what has changed is written anew.
  const shown = {};
  function write(id, text) {
    if (shown[id] === text) return;
    shown[id] = text;
    at(id).textContent = text;
  }
  function element(name, text, style) {
    const made = document.createElement(name);
    made.textContent = text;
    if (style) made.className = style;
    return made;
  }
  function writeRows(rows) {
    const key = JSON.stringify(rows);
    if (shown.rows === key) return;
    shown.rows = key;
    at("rows").replaceChildren(...rows.map((one) => {
      const line = element("li", "", one.gone ? "gone" : ""), when = element("div", one.when, "when");
      if (one.here && one.here !== one.when) when.append(element("span", say("here", { clock: one.here })));
      const what = element("div", one.text);
      if (one.large) what.append(element("b", one.large));
      line.append(when, what);
      return line;
    }));
  }
  let chosen = {};
  function writeLadder(slot) {
    at("heard").hidden = !slot;
    if (!slot) return;
    const name = slot.number + (slot.again ? " again" : ""), heard = chosen[name] || "";
    const key = name + heard;
    if (shown.ladder === key) return;
    shown.ladder = key;
    document.querySelectorAll("[data-heard]").forEach((one) => {
      one.setAttribute("aria-pressed", String(one.dataset.heard === heard));
    });
    at("ladder").replaceChildren(...(heard ? slot.ladders[heard] : []).map((one) => element("li", one)));
  }
  const time = () => Date.now() + (state.clock || 0);
  let now = null;
  function draw() {
    const ms = time();
    now = picture(ms);
    write("head", now.head);
    write("utc", clock(ms, true) + " UTC");
    write("here", say("here", { clock: here(ms) }));
    write("action", now.action);
    write("left", now.left);
    const far = ms < data.edges[0] - FAR || ms > data.edges[1] + FAR;
    at("warning").hidden = !far;
    write("warning", far ? say("far", { time: dated(ms), night: data.night }) : "");
    writeRows(now.rows);
    writeLadder(now.slot);
  }
  function tick() {
    draw();
    setTimeout(tick, 1000 - (((time() % 1000) + 1000) % 1000) + 5);
  }

  // What is tapped and typed.
  document.querySelectorAll("[data-heard]").forEach((one) => {
    one.addEventListener("click", () => {
      if (!now || !now.slot) return;
      const name = now.slot.number + (now.slot.again ? " again" : "");
      chosen[name] = chosen[name] === one.dataset.heard ? "" : one.dataset.heard;
      draw();
    });
  });
  function number(text) {
    const plain = text.trim().replace(",", ".").replace(MINUS, "-");
    return /^[+-]?(\d+\.?\d*|\.\d+)$/.test(plain) ? Number(plain) : NaN;
  }
  const inputs = { dial: at("dial-offset"), inclinometer: at("inclinometer-offset") };
  const most = { dial: data.most_offset_deg[0], inclinometer: data.most_offset_deg[1] };
  const offsetWords = (value) => signed(value, Math.max(1, Math.min(2, (String(value).split(".")[1] || "").length)));
  function tellOffsets(wrong) {
    const paper = { azimuth: offsetWords(asOnPaper.dial), inclinometer: offsetWords(asOnPaper.inclinometer) };
    const own = ["dial", "inclinometer"].some((name) => offset(name) !== asOnPaper[name]);
    let text = say(own ? "offsets_own" : "offsets_paper", paper);
    if (wrong) text = say("offset_bad", { minus: MINUS, most: most[wrong] });
    else if (own || state.clock !== null) text += " " + (keeps ? words.kept : words.not_kept);
    write("offset-note", text);
  }
  function take(name) {
    const value = number(inputs[name].value), good = Math.abs(value) <= most[name];
    inputs[name].setAttribute("aria-invalid", String(!good));
    state.offsets[name] = good && value !== asOnPaper[name] ? value : null;
    keep();
    tellOffsets(good ? "" : name);
    draw();
  }
  ["dial", "inclinometer"].forEach((name) => {
    inputs[name].value = offsetWords(offset(name));
    inputs[name].addEventListener("input", () => take(name));
    document.querySelectorAll("[data-offset=" + name + "] button").forEach((one) => {
      one.addEventListener("click", () => {
        const typed = number(inputs[name].value), value = Number.isFinite(typed) ? typed : offset(name);
        const changed = one.dataset.change === "sign" ? -value : value + Number(one.dataset.change) / 10;
        inputs[name].value = offsetWords(Math.round(changed * 100) / 100);
        take(name);
      });
    });
  });
  at("offset-paper").addEventListener("click", () => {
    ["dial", "inclinometer"].forEach((name) => {
      inputs[name].value = offsetWords(asOnPaper[name]);
      take(name);
    });
  });
  function tellClock() {
    const off = state.clock;
    write("clock-note", off === null ? words.clock_unknown
      : say(off > 0 ? "clock_slow" : "clock_fast", { seconds: (Math.abs(off) / 1000).toFixed(1) }));
    at("untap").disabled = off === null;
  }
  // The finger's coming counts, not its going.
  let touched = null;
  at("tap").addEventListener("pointerdown", () => { touched = Date.now(); });
  at("tap").addEventListener("click", () => {
    const past = (touched === null ? Date.now() : touched) % MINUTE;
    touched = null;
    state.clock = past < MINUTE / 2 ? -past : MINUTE - past;
    keep();
    tellClock();
    tellOffsets("");
    draw();
  });
  at("untap").addEventListener("click", () => {
    state.clock = null;
    keep();
    tellClock();
    draw();
  });

  // The screen is asked to stay on wherever the browser knows how; some want a touch first.
  let lock = null;
  function stayAwake() {
    if (!navigator.wakeLock || document.visibilityState !== "visible" || (lock && !lock.released)) {
      if (!navigator.wakeLock) write("awake-note", words.not_awake);
      return;
    }
    navigator.wakeLock.request("screen").then((given) => {
      lock = given;
      write("awake-note", words.awake);
    }).catch(() => write("awake-note", words.not_awake));
  }

  draw();
  tellOffsets("");
  tellClock();
  at("plain").open = false;
  at("live").hidden = false;
  stayAwake();
  document.addEventListener("visibilitychange", () => { draw(); stayAwake(); });
  document.addEventListener("click", stayAwake);
  tick();
}());
