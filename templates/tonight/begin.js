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
