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
