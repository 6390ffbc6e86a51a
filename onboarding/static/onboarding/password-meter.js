// How a chosen password stands, by the same rules as the server's, without its long blocklist.
// Length counts; there are no rules about kinds of characters. Nothing leaves the page.
"use strict";

(function () {
  const shortest = 15;

  function fold(text) {
    return text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase();
  }

  function beside(password, words) {
    let rest = fold(password).replace(/[^\p{L}\p{N}]/gu, "");
    for (const word of words) rest = rest.split(word).join("");
    return rest;
  }

  function level(password, words) {
    const length = Array.from(password).length;
    if (length < shortest) return 1;
    if (new Set(password).size < 5 || /^(.{1,4})\1+.{0,3}$/s.test(password) || beside(password, words).length < 8) return 2;
    return length >= 20 ? 4 : 3;
  }

  document.querySelectorAll("input[data-meter]").forEach(function (input) {
    const meter = document.getElementById(input.dataset.meter);
    if (!meter) return;
    const holder = input.closest("[data-words]");
    const words = fold(holder ? holder.dataset.words : "")
      .split(/[^\p{L}\p{N}]+/u)
      .filter((word) => word.length >= 4)
      .concat("rooftally")
      .sort((one, other) => other.length - one.length);
    const word = meter.querySelector(".meter-word");
    function show() {
      const found = level(input.value, words);
      meter.hidden = input.value === "";
      meter.dataset.level = String(found);
      const missing = shortest - Array.from(input.value).length;
      word.textContent = [
        "",
        meter.dataset.short.replace("%d", String(missing)),
        meter.dataset.guessable,
        meter.dataset.good,
        meter.dataset.strong,
      ][found];
    }
    input.addEventListener("input", show);
    if (input.value) show(); // typed, or filled in, before this script was here
  });
})();
