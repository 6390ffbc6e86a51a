"use strict";
// The scan screen: camera, photo and typing side by side; a large answer; what was scanned here, and what is expected.
(function (R) {
  const { element, make, say } = R;

  // A site's code is never broken across lines.
  const whole = (text) => text.split(/([0-9A-Z]{4}-[0-9A-Z]{4})/).map((part, place) =>
    place % 2 ? make("span", { class: "whole" }, part) : part);

  function showResult({ tone, word, text, moves, facts }) {
    const box = element("result");
    box.dataset.tone = tone;
    element("screen-scan").dataset.asks = tone === "ask" ? "yes" : "no";
    element("result-word").textContent = word;
    element("result-text").textContent = text;
    if (R.camera.on) element("eye-say").textContent = "";
    box.classList.remove("fresh");
    void box.offsetWidth; // lets the same flash start again
    box.classList.add("fresh");
    element("result-facts").replaceChildren(...(facts || []).map(([name, value]) =>
      make("div", {}, make("dt", {}, name), make("dd", {}, ...whole(value)))));
    element("result-facts").hidden = !(facts && facts.length);
    if (tone === "ask") element("result-word").focus();
    const list = element("result-moves");
    list.hidden = !moves.length;
    list.replaceChildren(...moves.map((move) =>
      make("button", { type: "button", onclick: () => ((list.hidden = true), move.act()) },
        make("span", {}, ...whole(move.word)))));
  }

  function eye(state, sentence) {
    element("eye").dataset.state = state;
    element("eye-say").textContent = sentence;
    const button = element("camera-switch");
    button.setAttribute("aria-pressed", String(state === "on"));
    button.textContent = say(state === "on" ? "camera_stop" : "camera_start");
  }

  async function startCamera() {
    R.sound.wake();
    if (!navigator.mediaDevices) return eye("off", say("insecure"));
    eye("starting", say("camera_starting"));
    try {
      const able = await R.camera.start(element("film"), R.capture.fromCamera, stopCamera);
      element("torch").hidden = !able.torch;
      return eye("on", "");
    } catch (error) {
      const denied = error.name === "NotAllowedError" || error.name === "SecurityError";
      R.camera.stop(element("film"));
      return eye("off", say(denied ? "camera_denied" : "camera_none"));
    }
  }

  function stopCamera(reason) {
    if (R.camera.on) R.camera.stop(element("film"));
    element("torch").hidden = true;
    eye("off", say(reason || "camera_off"));
  }

  async function drawList() {
    const holder = R.work.holder;
    const records = holder ? await R.store.all(holder.member) : [];
    const here = records.filter((record) => record.kind === "scan" && record.site === R.work.place).reverse();
    const list = element("scan-list");
    if (here.length) list.replaceChildren(...here.map((record, place) => R.fates.line(record, here.length - place)));
    else list.replaceChildren(make("li", { class: "say" }, say("nothing_scanned")));
    drawExpected(here);
  }

  function drawExpected(scans) {
    const site = R.work.site;
    const box = element("expected");
    if (!site || !site.expected.length) return box.replaceChildren();
    const scanned = (device) =>
      device.done || scans.some((record) => R.labels.names(record.content.raw, device.serial));
    const lines = site.expected.map((device) => {
      const done = scanned(device);
      return make(
        "li", { class: "expected-line", "data-done": String(Boolean(done)) },
        make("span", { class: "shape", "aria-hidden": "true" }),
        make("span", {}, [say(`kind_${device.kind}`), device.model, device.position].filter(Boolean).join(" · ")),
        device.serial ? make("code", {}, device.serial) : "",
        make("span", { class: "expected-word" }, say(done ? "expected_done" : "expected_open")),
      );
    });
    return box.replaceChildren(make("h2", {}, say("expected_here")), make("ul", { class: "expected-list" }, ...lines));
  }

  function openTyping() {
    const form = element("type-form");
    form.hidden = !form.hidden;
    element("type-open").setAttribute("aria-expanded", String(!form.hidden));
    if (!form.hidden) element("typed").focus();
  }

  function start() {
    R.on("result", showResult);
    // Nothing of one person's work stays on the screen for the next.
    R.on("forgotten", () => {
      showResult({ tone: "idle", word: say("ready"), text: "", moves: [] });
      element("typed").value = "";
    });
    R.on("eye", (sentence) => (element("eye-say").textContent = sentence));
    R.on("records", drawList);
    R.on("place", drawList);
    R.on("work", drawList);
    element("camera-switch").addEventListener("click", () => (R.camera.on ? stopCamera() : startCamera()));
    element("photo-label").addEventListener("change", async (event) => {
      R.sound.wake();
      const [file] = event.target.files;
      if (file) await R.capture.fromPhoto(file);
      event.target.value = "";
    });
    element("type-open").addEventListener("click", openTyping);
    element("type-form").addEventListener("submit", async (event) => {
      event.preventDefault();
      R.sound.wake();
      const field = element("typed");
      if (field.value.trim()) await R.capture.typed(field.value);
      field.value = "";
      field.focus();
    });
    element("torch").addEventListener("click", async (event) => {
      const on = event.currentTarget.getAttribute("aria-pressed") !== "true";
      event.currentTarget.setAttribute("aria-pressed", String(on));
      await R.camera.torch(on).catch(() => {});
    });
    // A camera that runs behind a locked screen drains the battery and is often dead when the phone wakes.
    document.addEventListener("visibilitychange", () => document.hidden && R.camera.on && stopCamera());
  }

  R.scanning = { start, stopCamera, drawList };
})(window.Rooftally);
