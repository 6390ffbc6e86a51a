"use strict";
// Handover checks and photos: findings and pictures become records of their own kind in the same queue.
(function (R) {
  const { element, make, say } = R;
  const FINDINGS = ["done", "problem", "open"];
  const WIDEST_PHOTO = 1600;

  // What the office knows, overlaid with what was found on this phone since.
  async function findings() {
    const site = R.work.site;
    const known = new Map((site ? site.checks : []).map((check) => [check.title, { ...check, state: "" }]));
    const records = R.work.holder ? await R.store.all(R.work.holder.member) : [];
    for (const record of records) {
      if (record.kind !== "check" || record.site !== R.work.place) continue;
      known.set(record.content.title, { ...record.content, state: record.state });
    }
    return [...known.values()];
  }

  async function keep(title, finding, note) {
    const record = await R.capture.keep("check", R.work.place, { title, finding, note });
    if (!record) return;
    R.sound.good();
    element("check-say").textContent = say("check_kept", { title, finding: say(`finding_${finding}`) });
    await draw();
  }

  function card(check) {
    const note = make("textarea", {
      rows: "2", maxlength: "2000", "aria-label": `${say("check_note")}: ${check.title}`, placeholder: say("check_note"),
    });
    note.value = check.note || "";
    const buttons = FINDINGS.map((finding) =>
      make("button", {
        type: "button", "aria-pressed": String(check.finding === finding), "data-finding": finding,
        onclick: () => keep(check.title, finding, note.value),
      }, say(`finding_${finding}`)));
    return make(
      "li", { class: "card" },
      make("h2", {}, check.title),
      check.state ? make("p", { class: "hint" }, say(`fate_${check.state}`)) : "",
      note,
      make("div", { class: "choices" }, ...buttons),
    );
  }

  async function draw() {
    if (element("check-list").contains(document.activeElement) && document.activeElement.tagName === "TEXTAREA") return;
    const checks = R.work.place ? await findings() : [];
    const lines = checks.length ? checks.map(card) : [make("li", { class: "say" }, say("no_checks"))];
    element("check-list").replaceChildren(...lines);
  }

  async function addCheck(event) {
    event.preventDefault();
    const title = element("check-title").value.trim();
    if (!title) {
      element("check-say").textContent = say("check_needs_title");
      element("check-title").focus();
      return;
    }
    const finding = event.submitter ? event.submitter.value : "done";
    await keep(title, finding, element("check-note").value);
    element("check-title").value = "";
    element("check-note").value = "";
  }

  async function addPhoto(event) {
    const [file] = event.target.files;
    event.target.value = "";
    if (!file) return;
    const words = element("photo-say");
    try {
      const data = await compressed(file);
      const name = `${new Date().toISOString().slice(0, 19).replace(/:/g, "-")}.jpg`;
      const content = { name, content_type: "image/jpeg", purpose: "photo", data };
      if (!(await R.capture.keep("file", R.work.place, content))) return;
      R.sound.good();
      words.textContent = say("photo_kept", { size: Math.round((data.length * 3) / 4 / 1024) });
    } catch {
      words.textContent = say("photo_failed");
    }
  }

  // Drawn anew, a photo is smaller and carries no place or device data of the camera.
  async function compressed(file) {
    const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
    const scale = Math.min(1, WIDEST_PHOTO / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(picture.width * scale);
    canvas.height = Math.round(picture.height * scale);
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    return canvas.toDataURL("image/jpeg", 0.8).split(",")[1];
  }

  function start() {
    element("check-form").addEventListener("submit", addCheck);
    element("photo-file").addEventListener("change", addPhoto);
    R.on("forgotten", () => {
      for (const id of ["check-say", "photo-say"]) element(id).textContent = "";
      for (const id of ["check-title", "check-note"]) element(id).value = "";
    });
    for (const event of ["work", "place", "records"]) R.on(event, draw);
  }

  R.checks = { start };
})(window.Rooftally);
