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
