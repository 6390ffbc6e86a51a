// Small courtesies of every page; each page works without them.
"use strict";

(function () {
  // A menu closes on Escape and when the focus goes elsewhere.
  document.querySelectorAll("details.person").forEach(function (menu) {
    menu.addEventListener("keydown", function (event) {
      if (event.key !== "Escape" || !menu.open) return;
      menu.open = false;
      menu.querySelector("summary").focus();
    });
    document.addEventListener("click", (event) => {
      if (!menu.contains(event.target)) menu.open = false;
    });
  });

  document.querySelectorAll("form[data-signs-out]").forEach((form) =>
    form.addEventListener("submit", async function (event) {
      event.preventDefault();
      await window.Rooftally.leavePhone().catch(() => {});
      if ("BroadcastChannel" in window) new BroadcastChannel("rooftally-field-holder").postMessage("changed");
      form.submit();
    }));

  // A form is sent once, however often its button is pressed.
  document.addEventListener("submit", function (event) {
    const form = event.target;
    if (form.dataset.sent) event.preventDefault();
    else if (form.method === "post") form.dataset.sent = "yes";
  });
  window.addEventListener("pageshow", function () {
    document.querySelectorAll("form[data-sent]").forEach((form) => delete form.dataset.sent);
  });

  document.querySelectorAll("[data-prints]").forEach(function (button) {
    button.hidden = false;
    button.addEventListener("click", () => window.print());
  });

  // After a refused form, the first wrong field is where the person continues.
  const wrong = document.querySelector("[aria-invalid=true]");
  if (wrong) wrong.focus();
})();
