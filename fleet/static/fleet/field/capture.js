"use strict";
// From codes to a record: what is a plate, what is a secret, what was here already, and what is kept.
(function (R) {
  const SAME_VIEW = 2_500;
  const inView = new Map();

  const STAYED_FOR = 12 * 3_600_000;
  const JUST_NOW = 15 * 60_000;
  let asking = false; // a question holds further scanning until it is answered

  const SOUNDS = { good: "good", bad: "bad", known: "known", ask: "question" };

  function show(tone, word, text, moves, facts) {
    asking = tone === "ask";
    R.tell("result", { tone: tone === "known" ? "plain" : tone, word, text, moves: moves || [], facts: facts || [] });
    if (SOUNDS[tone]) R.sound[SOUNDS[tone]]();
  }

  // Codes that were dealt with and are still before the camera are not dealt with again.
  function fresh(codes, now) {
    for (const [raw, seen] of inView) if (now - seen > SAME_VIEW) inView.delete(raw);
    const old = codes.filter((code) => inView.has(code.raw));
    for (const code of old) inView.set(code.raw, now);
    return codes.filter((code) => !inView.has(code.raw) && !partOfView(code));
  }

  // The plain bar code beside a code that was read already, with the same serial in both: nothing new.
  function partOfView(code) {
    return [...inView.keys()].some((raw) => R.labels.names(raw, code.raw));
  }

  async function fromCamera({ sure, unsure }) {
    if (asking) return null;
    const now = performance.now();
    const codes = fresh(sure, now);
    if (!codes.length) {
      if (unsure && !sure.length) R.tell("eye", R.say("linear_again"));
      return null;
    }
    for (const code of codes) inView.set(code.raw, now);
    return take(codes, "camera");
  }

  async function take(seen, source) {
    if (asking) return null;
    const codes = seen.map((code) => ({ ...code, raw: R.labels.withhold(code.raw, code.format) }));
    const [first] = codes;
    if (!R.work.holder) return show("bad", R.say("sign_in_first"), R.say("sign_in_first_text"));
    const secret = codes.map((code) => R.labels.refusedFamily(code.raw)).find(Boolean);
    if (secret) return show("bad", R.say("not_kept"), R.say("secret", { family: secret }));
    const plate = R.labels.plateCode(first.raw);
    if (plate) return takePlate(plate, first, source);
    if (!R.work.place) return findPlace(first, source);
    return takeLabel(codes, source);
  }

  async function takePlate(code, label, source) {
    if (R.work.place === code) return show("plain", R.say("plate_there"), R.say("plate_here"));
    const move = async () => {
      await keep("sight", "", { ...label, source });
      await R.work.go(code);
      show("good", R.say("plate_there"), R.say("plate_text", { code }));
    };
    if (!R.work.place) return move();
    return show("ask", R.say("plate_there"), R.say("plate_other", { code }), [
      { word: R.say("go_there", { code }), act: move },
      { word: R.say("stay_here"), act: () => show("plain", R.say("ready"), R.say("at_site", { code: R.work.place })) },
    ]);
  }

  async function findPlace(label, source) {
    const text = R.labels.shown(label.raw);
    const known = R.work.standingAt(label.raw);
    if (known) {
      await R.work.go(known.code);
      return show("good", R.say("plate_there"), R.say("found_by_device", { text, code: known.code }));
    }
    show("plain", R.say("no_place"), R.say("asking"));
    const record = await keep("sight", "", { ...label, source });
    if (!record) return null;
    const answered = await answerFor(record.id, 8_000);
    if (answered && answered.state === "found") {
      const { code } = answered.result.site;
      await R.work.go(code);
      return show("good", R.say("plate_there"), R.say("found_by_device", { text, code }));
    }
    return show("bad", R.say("no_place"), R.say(answered ? "asked_in_vain" : "no_place_text"));
  }

  async function answerFor(id, longest) {
    for (const end = Date.now() + longest; Date.now() < end; await R.pause(200)) {
      const record = await R.store.get(id);
      if (record.state !== "waiting") return record;
      if (R.sender.post.why && R.sender.post.at > Date.parse(record.made_at)) return null;
    }
    return null;
  }

  async function takeLabel(codes, source) {
    const [first, ...others] = codes;
    const text = R.labels.shown(first.raw);
    const here = (await R.store.all(R.work.holder.member)).filter((each) => each.site === R.work.place);
    const scans = here.filter((record) => record.kind === "scan");
    const known = scans.find((record) => record.content.raw === first.raw && record.state !== "refused");
    if (known && source !== "typed") {
      return show("known", R.say("known_already"), R.say("known_already_text", { text }));
    }
    const more = others.map((code) => [code.raw, code.format]);
    const content = { raw: first.raw, format: first.format, source, ...(more.length ? { more } : {}) };
    const doubt = await misfit(first.raw);
    if (doubt) return ask(doubt, text, content);
    return keepLabel(content, text);
  }

  async function keepLabel(content, text) {
    const place = R.work.place;
    const record = await keep("scan", place, content);
    const here = (await R.store.all(R.work.holder.member)).filter((each) => each.kind === "scan" && each.site === place);
    if (record) show("good", R.say("kept"), R.say("kept_number", { text, count: here.length }));
    return record;
  }

  // Does this fit here? What the phone knows itself, before anybody hears that it was kept.
  async function misfit(raw) {
    const place = R.work.place;
    const site = R.work.standingAt(raw);
    if (site && site.code !== place) return { why: "stands_at", code: site.code, address: site.address };
    const planned = R.work.expectedAt(raw);
    if (planned && planned.code !== place) return { why: "expected_at", code: planned.code, address: planned.address };
    const records = await R.store.all(R.work.holder.member);
    const since = Date.now() - JUST_NOW;
    const elsewhere = records.find((record) =>
      record.kind === "scan" && record.site !== place && record.content.raw === raw && Date.parse(record.made_at) > since);
    if (elsewhere) return { why: "just_scanned_at", code: elsewhere.site, address: addressOf(elsewhere.site) };
    if (Date.now() - R.work.placeAt > STAYED_FOR) return { why: "chosen_long_ago", code: place, address: "" };
    return null;
  }

  function addressOf(code) {
    const site = R.work.sites().find((each) => each.code === code);
    return site ? site.address : "";
  }

  // Nothing is kept before the question is answered; putting the label aside keeps nothing.
  function ask(doubt, text, content) {
    const here = R.work.place;
    const site = R.work.site;
    const stay = async () => {
      if (doubt.why === "chosen_long_ago" || R.work.place !== here) await R.work.go(here);
      await keepLabel(content, text);
    };
    const leave = async () => {
      await R.work.go(doubt.code);
      await keepLabel(content, text);
    };
    const moves = [{ word: R.say("it_is_here", { code: here }), act: stay }];
    if (doubt.code !== here) moves.push({ word: R.say("i_am_there", { code: doubt.code }), act: leave });
    else moves.push({ word: R.say("choose_anew"), act: () => chooseAnew() });
    moves.push({ word: R.say("put_aside"), act: () => show("plain", R.say("not_kept"), R.say("put_aside_text", { text })) });
    show("ask", R.say("does_it_fit"), R.say(doubt.why), moves, [
      [R.say("fact_scanned"), text],
      [R.say("fact_known"), [doubt.code, doubt.address].filter(Boolean).join(" · ")],
      [R.say("fact_here"), [here, site && site.address].filter(Boolean).join(" · ")],
    ]);
    return null;
  }

  function chooseAnew() {
    show("plain", R.say("ready"), "");
    window.location.hash = "#places";
  }

  const keep = async (kind, site, content) => ((await keepAll(kind, site, [content])) || [null])[0];

  // Durable first; only then does anybody hear or see that it was kept.
  async function keepAll(kind, site, contents) {
    const { member, user } = R.work.holder;
    try {
      const made = contents.map(({ at, ...content }) => ({ kind, site, member, user, content }));
      const records = await R.store.add(...made);
      R.tell("records");
      R.tell("kept");
      return records;
    } catch {
      show("bad", R.say("store_failed"), R.say("store_failed_text"));
      return null;
    }
  }

  async function fromPhoto(file) {
    show("plain", R.say("reading_photo"), "");
    let codes = [];
    try {
      codes = await R.camera.fromPhoto(file);
    } catch (error) {
      const why = error instanceof R.camera.DecoderFailed ? "decoder_failed" : "photo_failed";
      return show("bad", R.say("not_kept"), R.say(why));
    }
    if (!codes.length) return show("bad", R.say("no_code"), R.say("no_code_text"));
    return take(codes, "photo");
  }

  R.on("forgotten", () => (asking = false));
  R.on("place", () => asking && show("plain", R.say("ready"), ""));

  R.capture = { fromCamera, fromPhoto, keep, keepAll, take, typed: (raw) => take([{ raw, format: "" }], "typed") };
})(window.Rooftally);
