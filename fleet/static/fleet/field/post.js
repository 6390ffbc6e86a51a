"use strict";
// How the sending stands, in one line above and one card on the records screen; and the file for emergencies.
(function (R) {
  const { element, make, say } = R;
  const WHY = {
    offline: "why_offline", not_ours: "why_not_ours", signed_out: "why_signed_out", too_old: "why_too_old",
    busy: "why_busy", problem: "why_busy",
  };
  let counted = { waiting: 0, eye: 0 };

  function draw() {
    const { why, at, sending } = R.sender.post;
    const { waiting, eye } = counted;
    const signIn = why === "signed_out" || !R.work.holder;
    const tone = waiting ? (signIn ? "needs" : "waits") : eye ? "needs" : "done";
    element("post").dataset.tone = tone;
    const asks = eye === 1 ? "post_one_eye" : "post_eye";
    const short = waiting ? (signIn ? "post_sign_in" : "post_waiting") : eye ? asks : "post_all_sent";
    element("post-words").textContent = say(short, { count: waiting || eye });
    const long = waiting === 0 ? "line_all_sent" : waiting === 1 ? "line_one_waiting" : "line_waiting";
    element("post-sentence").textContent = say(long, { count: waiting });
    const time = at ? R.clock(at) : "";
    element("post-detail").textContent = sending ? say("sending", { count: sending }) : why ? say(WHY[why], { time }) : "";
    element("sign-in").hidden = !signIn;
    const count = element("bar-count");
    count.hidden = !(waiting + eye);
    count.textContent = String(waiting + eye);
    const holder = R.work.holder;
    element("holder-line").textContent = holder ? say("holder", holder) : say("holder_none");
  }

  async function exportFile() {
    const holder = R.work.holder;
    const records = holder ? await R.store.waiting(holder.member) : [];
    if (!records.length) {
      element("export-say").textContent = say("export_nothing");
      return;
    }
    const document_ = {
      format: "rooftally-field-records", version: 1, saved_at: new Date().toISOString(),
      holder: { member: holder.member, user: holder.user, name: holder.name },
      records: records.map(R.sender.wire),
    };
    const name = `rooftally-${new Date().toISOString().slice(0, 16).replace(/[:T]/g, "-")}.json`;
    const address = URL.createObjectURL(new Blob([JSON.stringify(document_)], { type: "application/json" }));
    const link = make("a", { href: address, download: name });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(address), 60_000);
    element("export-say").textContent = say("export_done", { count: records.length, name });
  }

  async function signOut() {
    const words = element("holder-line");
    let told = true;
    try {
      const session = R.sender.post.session || (await R.network.session());
      await fetch(R.facts.sign_out, {
        method: "POST", credentials: "same-origin", redirect: "manual", headers: { "X-CSRFToken": session.csrf },
      });
    } catch {
      told = false;
    }
    await R.work.forget();
    R.sender.post.session = null;
    R.tell("records");
    await R.sender.send();
    if (!told) words.textContent = say("sign_out_failed");
  }

  function start() {
    element("sign-in").href = R.facts.sign_in;
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
