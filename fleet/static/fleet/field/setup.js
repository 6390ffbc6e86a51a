"use strict";
// What stands around the work: keeping the page for use without internet, newer versions, and what the phone allows.
(function (R) {
  const { element, make, say } = R;
  const LITTLE_SPACE = 50_000_000;
  const PRIVATE_ROOM = 150_000_000;

  function notice(id, sentences, moves) {
    if (element(id)) return;
    const box = make(
      "div", { class: "note", id, role: "status" },
      ...sentences.map((sentence) => make("p", {}, sentence)),
      make("div", { class: "moves" }, ...(moves || []).map(({ word, act }) =>
        make("button", { type: "button", onclick: () => (act ? act(box) : box.remove()) }, word))),
    );
    element("notices").append(box);
  }

  async function keepPage() {
    if (!("serviceWorker" in navigator)) return;
    const registration = await navigator.serviceWorker.register(R.facts.service_worker, {
      scope: R.facts.shell, updateViaCache: "none",
    });
    const watch = (worker) => {
      if (!worker) return;
      const ready = () => worker.state === "installed" && navigator.serviceWorker.controller && offer(registration);
      worker.addEventListener("statechange", ready);
      ready();
    };
    watch(registration.waiting);
    registration.addEventListener("updatefound", () => watch(registration.installing));
    R.on("too_old", () => takeNewest(registration));
    setInterval(() => registration.update().catch(() => {}), 3_600_000);
  }

  // A newer page waits until nothing waits to be sent, and asks; nobody is interrupted between two scans.
  function offer(registration) {
    const take = async (box) => {
      const holder = R.work.holder;
      const waiting = holder ? (await R.store.waiting(holder.member)).length : 0;
      if (waiting) {
        box.querySelector("p").textContent = `${say("new_version")} ${say("new_version_wait")}`;
        R.on("counted", ({ waiting: left }) => left === 0 && takeOver(registration));
        return;
      }
      takeOver(registration);
    };
    notice("new-version", [say("new_version")], [{ word: say("take_it"), act: take }]);
  }

  function takeOver(registration) {
    if (!registration.waiting) return false;
    navigator.serviceWorker.addEventListener("controllerchange", () => window.location.reload(), { once: true });
    registration.waiting.postMessage("take over");
    return true;
  }

  // update() resolves while the new one is still installing: wait until it is installed.
  let reloading = false;
  async function takeNewest(registration) {
    if (reloading) return;
    reloading = true;
    try {
      await registration.update();
      const worker = registration.installing || registration.waiting;
      for (let turn = 0; worker && worker.state === "installing" && turn < 300; turn += 1) await R.pause(100);
      reloading = takeOver(registration);
    } catch {
      reloading = false;
    }
  }

  async function space() {
    if (!navigator.storage || !navigator.storage.estimate) return;
    const persisted = navigator.storage.persisted ? await navigator.storage.persisted() : false;
    const { usage = 0, quota = 0 } = await navigator.storage.estimate();
    const inMegabytes = (bytes) => Math.round(bytes / 1_000_000);
    element("space-line").textContent = say("space", {
      used: inMegabytes(usage), quota: inMegabytes(quota), persisted: say(persisted ? "yes" : "no"),
    });
    if (quota - usage < LITTLE_SPACE) notice("little-space", [say("little_space", { free: inMegabytes(quota - usage) })]);
    else if (quota < PRIVATE_ROOM) notice("little-room", [say("little_room")], [{ word: say("understood") }]);
  }

  async function askToPersist() {
    if (!navigator.storage || !navigator.storage.persist) return;
    if (!(await navigator.storage.persisted())) await navigator.storage.persist();
    await space();
  }

  function installHint() {
    const isApple = /iP(hone|ad|od)/.test(navigator.userAgent) || (/Mac/.test(navigator.platform) && navigator.maxTouchPoints > 1);
    const installed = navigator.standalone === true || matchMedia("(display-mode: standalone)").matches;
    if (!isApple || installed) return;
    notice("install", [say("ios_install"), say("ios_install_why")], [{ word: say("understood") }]);
  }

  function clockNotice(skew) {
    const old = element("clock-wrong");
    if (old) old.remove();
    if (Math.abs(skew) < R.facts.noticed_skew_ms) return;
    notice("clock-wrong", [say("clock_wrong", { minutes: Math.round(Math.abs(skew) / 60_000) })], [{ word: say("understood") }]);
  }

  function start() {
    R.on("skew", clockNotice);
    R.on("seal_broken", () => notice("seal-broken", [say("seal_broken")], [{ word: say("understood") }]));
    if (!window.isSecureContext) notice("insecure", [say("insecure"), say("insecure_next")]);
    installHint();
    keepPage().catch(() => {});
    space().catch(() => {});
    let asked = false;
    R.on("kept", () => {
      (asked ? space() : askToPersist()).catch(() => {});
      asked = true;
    });
  }

  R.setup = { start, storeClosed: () => notice("store-closed", [say("store_closed"), say("store_closed_next")]) };
})(window.Rooftally);
