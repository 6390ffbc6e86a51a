"use strict";
// What became of each record, in words; what needs a person comes with the move that settles it.
(function (R) {
  const { element, make, say } = R;
  const NEEDS = ["confirm", "elsewhere", "refused"];
  const WRITTEN = { scan: "raw", check: "title", file: "name", sight: "raw" };

  function title(record) {
    if (record.kind === "consent") return say(`purpose_${record.content.purpose}`);
    const text = record.content[WRITTEN[record.kind]] || "";
    return record.kind === "scan" || record.kind === "sight" ? R.labels.shown(text) : text;
  }

  function settled(record) {
    return Boolean(record.settled_by || record.moved);
  }

  const needsEye = (record) => NEEDS.includes(record.state) && !settled(record);

  function line(record, number) {
    return make(
      "li",
      {
        class: "fate", id: `fate-${record.id}`, "data-kind": record.kind, "data-state": record.state,
        "data-settled": String(settled(record)),
      },
      make("span", { class: "fate-shape", "aria-hidden": "true" }),
      make(
        "div", { class: "fate-body" },
        make("p", { class: "fate-title" }, number ? make("span", { class: "fate-number" }, `${number}`) : "", title(record)),
        make("p", { class: "fate-word" }, say(`fate_${record.state}`)),
        make("p", { class: "fate-when" }, [say(`kind_${record.kind}`), record.site, R.clock(record.made_at)]
          .filter(Boolean).join(" · ")),
        ...details(record),
      ),
    );
  }

  function details(record) {
    const found = [];
    const { result } = record;
    if (record.state === "waiting" && record.hold_until > Date.now()) {
      found.push(make("p", { class: "fate-text" }, say("stuck", { reason: record.last_error })));
    }
    if (!result) return found;
    if (NEEDS.includes(record.state)) found.push(make("p", { class: "fate-text" }, result.why || result.sentence || ""));
    if (record.moved) found.push(make("p", { class: "fate-text" }, say("moved")));
    if (record.settled_by) found.push(make("p", { class: "fate-text" }, say("confirmed_by")));
    if (settled(record)) return found;
    if (record.state === "elsewhere") found.push(...elsewhere(record, result));
    if (record.state === "confirm") found.push(...confirming(record, result));
    if (record.state === "refused") found.push(...refused(record, result));
    return found;
  }

  function elsewhere(record, { other_site: other, device }) {
    if (!other || !device) return [make("p", { class: "fate-text" }, say("other_site_hidden"))];
    return [
      make("p", { class: "fate-text" }, say("other_site", other)),
      make("div", { class: "moves" },
        make("button", { type: "button", onclick: (event) => move(event.currentTarget, record, device) }, say("move_here"))),
    ];
  }

  function confirming(record, { reading, candidates }) {
    const facts = Object.values((reading && reading.facts) || {});
    const options = (candidates || []).map((each) => {
      const text = [each.maker, each.model, each.serial].filter(Boolean).join(" ");
      return make("button", { type: "button", onclick: () => confirm(record, each.id) }, say("confirm_this_one", { text }));
    });
    return [
      make("p", { class: "fate-text" }, say("confirm_read", { text: facts.join(" · ") || title(record) })),
      make("div", { class: "moves" }, ...options,
        make("button", { type: "button", onclick: () => confirm(record, null) },
          say(options.length ? "confirm_new" : "confirm_right"))),
      make("p", { class: "hint" }, say("wrong_label")),
    ];
  }

  function refused(record, result) {
    const moves = [make("p", { class: "hint" }, say("wrong_label"))];
    if (!result.problem) return record.kind === "scan" ? moves : [];
    const again = () => R.store.sendAgain(record.id).then(() => (R.tell("records"), R.tell("kept")));
    return [make("div", { class: "moves" }, make("button", { type: "button", onclick: again }, say("send_again")))];
  }

  // A confirmation is a record of its own: the first one stays what it was.
  async function confirm(record, device) {
    const saw = ((record.result && record.result.candidates) || []).length > 0;
    const content = { ...record.content, confirmed: true, another_unit: !device && saw, ...(device ? { meant_device: device } : {}) };
    const made = await R.capture.keep("scan", record.site, content);
    if (!made) return;
    await R.store.note(record.id, "settled_by", made.id);
    R.tell("records");
  }

  async function move(button, record, device) {
    button.disabled = true;
    const words = make("p", { class: "fate-text", role: "status" });
    button.after(words);
    try {
      const session = await R.network.session();
      const address = `${R.facts.devices}/${device.id}/moves`;
      await R.network.post(address, { to_site: record.site }, session.csrf, 15_000, { "Idempotency-Key": record.id });
      await R.store.note(record.id, "moved", true);
      R.tell("records");
    } catch (error) {
      button.disabled = false;
      const reason = error.document && error.document.detail;
      words.textContent = reason ? say("move_failed", { reason }) : say("move_needs_net");
    }
  }

  async function draw() {
    const holder = R.work.holder;
    const records = holder ? await R.store.all(holder.member) : [];
    const order = (record) => (needsEye(record) ? 0 : record.state === "waiting" ? 1 : 2);
    const sorted = [...records].sort((one, other) => order(one) - order(other) || other.seq - one.seq);
    const lines = sorted.length ? sorted.map((record) => line(record)) : [make("li", { class: "say" }, say("nothing_here"))];
    const others = await R.store.countOfOthers(holder ? holder.member : "");
    if (others) lines.push(make("li", { class: "say" }, say(others === 1 ? "others_one_waits" : "others_wait", { count: others })));
    element("fate-list").replaceChildren(...lines);
    R.tell("counted", {
      waiting: records.filter((record) => record.state === "waiting").length,
      eye: records.filter(needsEye).length,
      others,
    });
  }

  function start() {
    for (const event of ["records", "work"]) R.on(event, draw);
  }

  R.fates = { start, draw, line };
})(window.Rooftally);
