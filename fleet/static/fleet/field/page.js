"use strict";
// Puts the parts together: one screen at a time by the address's fragment, then the store, then the sender.
(function (R) {
  const SCREENS = ["places", "scan", "checks", "permissions", "fates"];

  function shownScreen() {
    const wanted = window.location.hash.slice(1);
    if (SCREENS.includes(wanted)) return wanted;
    return R.work.place ? "scan" : "places";
  }

  function show() {
    const screen = shownScreen();
    for (const name of SCREENS) R.element(`screen-${name}`).hidden = name !== screen;
    for (const link of document.querySelectorAll(".bar a")) {
      if (link.dataset.screen === screen) link.setAttribute("aria-current", "page");
      else link.removeAttribute("aria-current");
    }
    if (screen !== "scan" && R.camera.on) R.scanning.stopCamera();
    window.scrollTo(0, 0);
  }

  async function start() {
    for (const part of [R.work, R.places, R.scanning, R.checks, R.permissions, R.fates, R.post]) part.start();
    window.addEventListener("hashchange", show);
    try {
      await R.work.load();
    } catch {
      R.setup.storeClosed();
    }
    show();
    R.tell("records");
    R.setup.start();
    performance.mark("ready");
    document.body.dataset.ready = "yes";
    await R.sender.start();
  }

  start();
})(window.Rooftally);
