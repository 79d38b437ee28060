/* What a reader may choose: a clock and a partner. Words by every clock stand in the page; nothing is computed here. */
(function () {
  const tools = document.querySelector(".tools"), clock = tools.elements.clock, partner = tools.elements.partner;
  const all = (selector) => [...document.querySelectorAll(selector)];
  const own = new Map(all("[data-clocks], .clock-words, .clock-name").map((one) => [one, one.textContent]));
  function showClock() {
    const chosen = clock.selectedOptions[0], place = Number(chosen.value);
    for (const [one, words] of own) {
      if (!place) one.textContent = words;
      else if (one.dataset.clocks !== undefined) one.textContent = one.dataset.clocks.split("|")[place - 1];
      else one.textContent = one.matches(".clock-words") ? chosen.dataset.words : chosen.dataset.name;
    }
    document.body.dataset.clock = ["home", "utc"][place] || "partner";
  }
  function showPartner() {
    const call = partner.value;
    for (const one of all("[data-calls]"))
      one.classList.toggle("other", Boolean(call) && !one.dataset.calls.split(" ").includes(call));
    for (const group of all("[data-group]"))
      group.classList.toggle("other", !group.querySelector("[data-calls]:not(.other)"));
    document.body.classList.toggle("picked", Boolean(call));
  }
  clock.addEventListener("change", showClock);
  partner.addEventListener("change", showPartner);
  tools.addEventListener("submit", (event) => event.preventDefault());
  tools.hidden = false;
  showClock();
  showPartner();
})();
