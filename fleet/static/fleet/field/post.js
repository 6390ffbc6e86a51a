"use strict";
// How the sending stands, in one line above and one card on the records screen; and the file for emergencies.
(function (R) {
  const { element, make, say } = R;
  const WHY = {
    offline: "why_offline", not_ours: "why_not_ours", signed_out: "why_signed_out", too_old: "why_too_old",
    busy: "why_busy", problem: "why_busy", no_longer_member: "why_no_longer_member",
  };
  let counted = { waiting: 0, eye: 0, others: 0 };

  function draw() {
    const { why, at, sending } = R.sender.post;
    const { eye, others } = counted;
    const holder = R.work.holder;
    const waiting = holder ? counted.waiting : others;
    const signIn = why === "signed_out" || !holder;
    const tone = signIn || (eye && !waiting) ? "needs" : waiting ? "waits" : "done";
    element("post").dataset.tone = tone;
    const asks = eye === 1 ? "post_one_eye" : "post_eye";
    const short = waiting ? (signIn ? "post_sign_in" : "post_waiting") : eye ? asks : signIn ? "post_nobody" : "post_all_sent";
    element("post-words").textContent = say(short, { count: waiting || eye });
    element("post-sentence").textContent = say(sentence(waiting, others, holder), { count: waiting });
    const time = at ? R.clock(at) : "";
    element("post-detail").textContent = sending ? say("sending", { count: sending }) : why ? say(WHY[why], { time }) : "";
    element("sign-in").hidden = !signIn;
    element("send-now").hidden = signIn || !waiting;
    const count = element("bar-count");
    count.hidden = !(waiting + eye);
    count.textContent = String(waiting + eye);
    const nobody = R.work.isRemoved ? "why_no_longer_member" : R.work.leaving ? "sign_out_later" : "holder_none";
    element("holder-line").textContent = holder ? say("holder", holder) : say(nobody);
  }

  function sentence(waiting, others, holder) {
    if (R.work.isRemoved && !holder) return others ? "line_removed" : "line_removed_none";
    if (!holder) return others ? "line_signed_out" : "line_nothing";
    if (waiting) return waiting === 1 ? "line_one_waiting" : "line_waiting";
    return others ? "line_yours_sent" : "line_all_sent";
  }

  async function exportFile() {
    const holder = R.work.holder;
    const records = holder ? await R.store.waiting(holder.member) : [];
    if (records.length) {
      const { member, user, name } = holder;
      const saved = save({ version: 1, holder: { member, user, name }, records: records.map(R.sender.wire) });
      element("export-say").textContent = say("export_done", { count: records.length, name: saved });
      return;
    }
    const sealed = await R.store.parcels();
    for (const [member, parcels] of sealed) {
      const count = parcels.reduce((sum, parcel) => sum + parcel.count, 0);
      const saved = save({ version: 2, holder: { member }, sealed: parcels });
      element("export-say").textContent = say("export_sealed", { count, name: saved });
    }
    if (!sealed.length) element("export-say").textContent = say(holder ? "export_nothing" : "export_sign_in");
  }

  let saves = 0;
  function save(content) {
    const document_ = { format: "rooftally-field-records", saved_at: new Date().toISOString(), ...content };
    saves += 1;
    const name = `rooftally-${new Date().toISOString().slice(0, 19).replace(/[:T]/g, "-")}-${saves}.json`;
    const address = URL.createObjectURL(new Blob([JSON.stringify(document_)], { type: "application/json" }));
    const link = make("a", { href: address, download: name });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(address), 60_000);
    return name;
  }

  async function signOut() {
    await R.work.forget();
    await R.sender.send(); // tells the server, now or when it answers again
  }

  function start() {
    for (const link of document.querySelectorAll("[data-sign-in]")) link.href = R.facts.sign_in;
    element("post").addEventListener("click", () => (window.location.hash = "#fates"));
    element("send-now").addEventListener("click", () => R.sender.send());
    element("export").addEventListener("click", exportFile);
    element("sign-out").addEventListener("click", signOut);
    R.on("counted", (counts) => {
      counted = counts;
      draw();
    });
    for (const event of ["post", "work"]) R.on(event, draw);
  }

  R.post = { start };
})(window.Rooftally);
