"use strict";
// Who holds the phone, their day's work, and the site they are at. All of it goes on signing out; records stay.
(function (R) {
  const state = { holder: null, work: null, place: null };

  async function load() {
    state.holder = (await R.store.fact("holder")) || null;
    state.work = (await R.store.fact("work")) || null;
    state.place = (await R.store.fact("place")) || null;
    await dropOld();
    R.tell("work");
  }

  async function dropOld() {
    if (!state.work) return;
    const age = Date.now() - Date.parse(state.work.made_at);
    if (age <= state.work.kept_hours * 3_600_000) return;
    state.work = null;
    state.expired = true;
    await R.store.dropFact("work");
  }

  // A session that answers is somebody signed in: their work replaces what was here.
  async function welcome(session) {
    const holder = {
      member: session.member, user: session.user, name: session.name, company: session.company.name,
    };
    if (state.holder && state.holder.member !== holder.member) await forget();
    state.holder = holder;
    state.work = session.work;
    state.expired = false;
    await R.store.keepFact("holder", holder);
    await R.store.keepFact("work", session.work);
    R.tell("work");
  }

  async function forget() {
    Object.assign(state, { holder: null, work: null, place: null });
    for (const name of ["holder", "work", "place"]) await R.store.dropFact(name);
    R.tell("forgotten");
    R.tell("work");
    R.tell("records");
  }

  async function go(code) {
    state.place = code;
    await R.store.keepFact("place", code);
    R.tell("place");
  }

  const sites = () => (state.work ? state.work.sites : []);

  R.work = {
    load,
    welcome,
    forget,
    go,
    sites,
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
      sites().find((site) => site.standing.some((device) => device.serial.length > 5 && raw.includes(device.serial))),
  };
})(window.Rooftally);
