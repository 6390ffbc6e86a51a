// How a chosen password stands, by the same rules as the server's, without its long blocklist.
// Length counts; there are no rules about kinds of characters. Nothing leaves the page.
"use strict";

(function () {
  const shortest = 15;

  function fold(text) {
    return text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase();
  }

  // Whether words of the context are in it and little else: few letters, digits and different other signs.
  function littleBeside(password, words) {
    const letters = [];
    Array.from(password).forEach(function (character, place) {
      for (const bare of fold(character)) if (/[\p{L}\p{N}]/u.test(bare)) letters.push({ bare: bare, place: place });
    });
    let text = letters.map((letter) => letter.bare[0]).join("");
    const covered = new Set();
    for (const word of words) {
      for (let at = text.indexOf(word); at >= 0; at = text.indexOf(word)) {
        for (const letter of letters.slice(at, at + word.length)) covered.add(letter.place);
        text = text.slice(0, at) + "\0".repeat(word.length) + text.slice(at + word.length);
      }
    }
    const rest = Array.from(password).filter((character, place) => !covered.has(place) && !/\s/.test(character));
    const told = rest.filter((character) => /[\p{L}\p{N}]/u.test(character));
    const signs = new Set(rest.filter((character) => !/[\p{L}\p{N}]/u.test(character)));
    return covered.size > 0 && told.length + signs.size < 8;
  }

  function level(password, words) {
    const length = Array.from(password).length;
    if (length < shortest) return 1;
    if (new Set(password).size < 5 || /^(.{1,4})\1+.{0,3}$/s.test(password) || littleBeside(password, words)) return 2;
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
