// The search box: "/" reaches it, arrows and Enter walk its answers, the back button finds them again.
"use strict";

(function () {
  const box = document.getElementById("search-box");
  const answers = document.getElementById("search-answers");
  if (!box || !answers) return;

  const options = () => Array.from(answers.querySelectorAll("[role=option]"));
  const chosen = () => answers.querySelector("[aria-selected=true]");

  function show(open) {
    const any = open && answers.childElementCount > 0;
    answers.hidden = !any;
    box.setAttribute("aria-expanded", String(any && options().length > 0));
    if (!any) choose(null);
  }

  function choose(option) {
    options().forEach((other) => other.setAttribute("aria-selected", String(other === option)));
    if (option) {
      box.setAttribute("aria-activedescendant", option.id);
      option.scrollIntoView({ block: "nearest" });
    } else {
      box.removeAttribute("aria-activedescendant");
    }
  }

  function step(by) {
    const all = options();
    if (!all.length) return;
    show(true);
    const at = all.indexOf(chosen()) + by;
    choose(at < 0 || at >= all.length ? null : all[at]);
  }

  box.addEventListener("keydown", function (event) {
    if (event.key === "ArrowDown" || event.key === "ArrowUp") {
      event.preventDefault();
      const none = chosen() === null && event.key === "ArrowUp";
      if (none) choose(options().at(-1) || null);
      else step(event.key === "ArrowDown" ? 1 : -1);
    } else if (event.key === "Enter" && chosen()) {
      event.preventDefault();
      chosen().click();
    } else if (event.key === "Escape" && !answers.hidden) {
      event.preventDefault();
      show(false);
    }
  });

  box.addEventListener("input", function () {
    history.replaceState(Object.assign({}, history.state, { searched: box.value }), "");
    if (!box.value.trim()) {
      answers.replaceChildren();
      show(false);
    }
  });
  box.addEventListener("focus", () => show(true));
  answers.addEventListener("htmx:afterSwap", () => show(document.activeElement === box));
  document.addEventListener("click", (event) => {
    if (!event.target.closest(".search")) show(false);
  });
  document.addEventListener("focusin", (event) => {
    if (!event.target.closest(".search")) show(false);
  });

  document.addEventListener("keydown", function (event) {
    const typing = event.target.closest("input, textarea, select, [contenteditable]");
    if (event.key !== "/" || typing || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    box.focus();
    box.select();
  });

  window.addEventListener("pageshow", function () {
    const searched = history.state && history.state.searched;
    if (!searched || box.value === searched && answers.childElementCount) return;
    box.value = searched;
    htmx.trigger(box, "restore");
  });
})();
