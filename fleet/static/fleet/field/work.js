"use strict";
// Who holds the phone, their day's work, and the site they are at. All of it goes on signing out; records stay.
(function (R) {
  const LOOK_AT_AGE_EVERY = 600_000;
  const state = { holder: null, work: null, place: null, leaving: null };
  const otherTabs = "BroadcastChannel" in window ? new BroadcastChannel("rooftally-field-holder") : null;

  async function load() {
    const before = state.holder;
    const [holder = null, work = null, place = null, leaving = null] =
      await R.store.facts("holder", "work", "place", "leaving");
    Object.assign(state, { holder, work, place, leaving });
    if (before && (!holder || holder.member !== before.member)) R.tell("forgotten");
    await dropOld();
    R.tell("work");
    R.tell("records");
  }

  async function dropOld() {
    if (!state.work) return;
    const age = Date.now() - Date.parse(state.work.made_at);
    if (age <= state.work.kept_hours * 3_600_000) return;
    state.work = null;
    state.expired = true;
    await R.store.changeFacts(() => ({ work: null }));
    R.tell("work");
  }

  // A session that answers is somebody signed in: their work replaces what was here. False for somebody who has just
  // signed out on this phone, of which the server does not know yet.
  async function welcome(session) {
    const holder = {
      member: session.member, user: session.user, name: session.name, company: session.company.name,
    };
    let before = null;
    let stays = true;
    await R.store.changeFacts(async (fact) => {
      before = await fact("holder");
      stays = (await fact("leaving")) !== holder.member;
      const isNew = !before || before.member !== holder.member;
      return stays ? { holder, work: session.work, leaving: null, ...(isNew ? { place: null } : {}) } : {};
    });
    if (!stays) return false;
    const was = state.holder;
    Object.assign(state, { holder, work: session.work, leaving: null, expired: false });
    if (!was || was.member !== holder.member) await changeHands(was);
    R.tell("work");
    return true;
  }

  async function changeHands(was) {
    [state.place = null] = await R.store.facts("place");
    if (was) R.tell("forgotten");
    R.tell("records");
    if (otherTabs) otherTabs.postMessage("changed");
  }

  // In one transaction: a phone that dies in between must not hold half of somebody's day.
  async function forget() {
    const leaving = state.holder ? state.holder.member : null;
    Object.assign(state, { holder: null, work: null, place: null, leaving });
    await R.store.changeFacts(() => ({ holder: null, work: null, place: null, leaving }));
    if (otherTabs) otherTabs.postMessage("changed");
    R.tell("forgotten");
    R.tell("work");
    R.tell("records");
  }

  async function left() {
    if (!state.leaving) return;
    state.leaving = null;
    await R.store.changeFacts(() => ({ leaving: null }));
    R.tell("work");
  }

  async function go(code) {
    state.place = code;
    await R.store.changeFacts(() => ({ place: code }));
    R.tell("place");
  }

  function start() {
    if (otherTabs) otherTabs.onmessage = () => load().catch(() => {});
    setInterval(() => dropOld().catch(() => {}), LOOK_AT_AGE_EVERY);
    document.addEventListener("visibilitychange", () => document.hidden || dropOld().catch(() => {}));
  }

  const sites = () => (state.work ? state.work.sites : []);

  R.work = {
    start,
    load,
    welcome,
    forget,
    left,
    go,
    sites,
    get leaving() {
      return state.leaving;
    },
    get holder() {
      return state.holder;
    },
    get expired() {
      return Boolean(state.expired);
    },
    get keptHours() {
      return state.work ? state.work.kept_hours : 72;
    },
    get place() {
      return state.place;
    },
    get site() {
      return sites().find((site) => site.code === state.place) || null;
    },
    wording: (purpose, language) => {
      const all = state.work ? state.work.wordings.filter((wording) => wording.purpose === purpose) : [];
      const wanted = [language, language.split("-")[0], "en"];
      for (const each of wanted) {
        const found = all.find((wording) => wording.language === each);
        if (found) return found;
      }
      return all[0] || null;
    },
    standingAt: (raw) =>
      sites().find((site) => site.standing.some((device) => R.labels.names(raw, device.serial))),
  };
})(window.Rooftally);
