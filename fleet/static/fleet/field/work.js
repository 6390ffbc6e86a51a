"use strict";
// Who holds the phone, their day's work, and the site they are at. All of it goes on signing out; records stay.
(function (R) {
  const LOOK_AT_AGE_EVERY = 600_000;
  const ANSWERED_STAY = 7 * 86_400_000;
  const state = { holder: null, work: null, place: null, placeAt: 0, leaving: null, removed: null, skew: 0 };
  const otherTabs = "BroadcastChannel" in window ? new BroadcastChannel("rooftally-field-holder") : null;

  async function load() {
    const before = state.holder;
    const [holder = null, work = null, place = null, placeAt = 0, leaving = null, removed = null, skew = 0] =
      await R.store.facts("holder", "work", "place", "place_at", "leaving", "removed", "skew");
    Object.assign(state, { holder, work, place, placeAt, leaving, removed, skew });
    if (before && (!holder || holder.member !== before.member)) R.tell("forgotten");
    await dropOld();
    R.tell("work");
    R.tell("records");
  }

  async function dropOld() {
    if (await R.store.dropAnswered(Date.now() - ANSWERED_STAY)) R.tell("records");
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
    const key = await R.seal.key(session.seal_key);
    const [known] = await R.store.facts("holder");
    if (known && known.member !== holder.member) await seal(known.member, {});
    let before = null;
    let stays = true;
    await R.store.changeFacts(async (fact) => {
      before = await fact("holder");
      stays = (await fact("leaving")) !== holder.member;
      const isNew = !before || before.member !== holder.member;
      return stays
        ? { holder, key, work: session.work, leaving: null, removed: null, ...(isNew ? { place: null, place_at: null } : {}) }
        : {};
    });
    if (!stays) return false;
    const was = state.holder;
    Object.assign(state, { holder, work: session.work, leaving: null, removed: null, expired: false });
    if (key) await unseal(key, holder.member);
    if (!was || was.member !== holder.member) await changeHands(was);
    R.tell("work");
    return true;
  }

  async function unseal(key, member) {
    const mine = (await R.store.parcels()).filter(([whose]) => whose === member);
    if (!mine.length) return;
    try {
      const opened = await Promise.all(mine.flatMap(([, parcels]) => parcels.map((each) => R.seal.open(key, member, each))));
      await R.store.unseal(member, opened.flat());
      R.tell("records");
    } catch {
      R.tell("seal_broken"); // they stay as they are: the office may open them
    }
  }

  // What a member leaves behind is sealed with their key; records that came while it was being sealed are sealed too.
  async function seal(member, changes) {
    const [key = null] = await R.store.facts("key");
    for (let turn = 0; turn < 5; turn += 1) {
      const left = await R.store.unsent(member);
      const parcel = key ? await R.seal.close(key, member, left) : null;
      const ids = left.map((record) => record.id);
      if (await R.store.leave(member, ids, parcel, { key: null, ...changes })) return;
    }
    throw new Error("records kept coming while they were sealed");
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
    const gone = { holder: null, work: null, place: null, place_at: null, leaving };
    await (leaving ? seal(leaving, gone) : R.store.changeFacts(() => gone));
    tellForgotten();
  }

  // The company's member no longer: everything of the company goes, what was not sent is sealed for the office.
  async function removed() {
    if (!state.holder) return;
    const { member, company } = state.holder;
    Object.assign(state, { holder: null, work: null, place: null, leaving: null, removed: { member, company } });
    await seal(member, {
      holder: null, work: null, place: null, place_at: null, leaving: null, removed: { member, company },
    });
    tellForgotten();
  }

  function tellForgotten() {
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
    Object.assign(state, { place: code, placeAt: Date.now() });
    await R.store.changeFacts(() => ({ place: code, place_at: state.placeAt }));
    R.tell("place");
  }

  // How far this phone's clock is behind the server's; each record keeps what was known when it was made.
  async function compareClocks(skew) {
    const told = Math.abs(state.skew) >= R.facts.noticed_skew_ms;
    state.skew = skew;
    await R.store.changeFacts(() => ({ skew }));
    if (told || Math.abs(skew) >= R.facts.noticed_skew_ms) R.tell("skew", skew);
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
    removed,
    compareClocks,
    left,
    get isRemoved() {
      return state.removed;
    },
    get skew() {
      return state.skew;
    },
    get placeAt() {
      return state.placeAt;
    },
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
    expectedAt: (raw) =>
      sites().find((site) => site.expected.some((device) => device.serial && R.labels.names(raw, device.serial))),
  };
})(window.Rooftally);
