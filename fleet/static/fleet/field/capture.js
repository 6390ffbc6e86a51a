"use strict";
// From codes to a record: what is a plate, what is a secret, what was here already, and what is kept.
(function (R) {
  const SAME_VIEW = 2_500;
  const inView = new Map();

  function show(tone, word, text, moves) {
    R.tell("result", { tone, word, text, moves: moves || [] });
    if (tone === "good") R.sound.good();
    if (tone === "bad") R.sound.bad();
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
      return show("plain", R.say("known_already"), R.say("known_already_text", { text }));
    }
    const more = others.map((code) => [code.raw, code.format]);
    const content = { raw: first.raw, format: first.format, source, ...(more.length ? { more } : {}) };
    const record = await keep("scan", R.work.place, content);
    if (record) show("good", R.say("kept"), R.say("kept_number", { text, count: scans.length + 1 }));
    return record;
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

  R.capture = { fromCamera, fromPhoto, keep, keepAll, take, typed: (raw) => take([{ raw, format: "" }], "typed") };
})(window.Rooftally);
