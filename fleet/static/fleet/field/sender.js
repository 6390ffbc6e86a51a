"use strict";
// The only sender, across all tabs. It sends in order, as often as needed, and lets a record go only by an answer
// that names its UUID. Whatever else happens, the record stays.
(function (R) {
  const MOST = 20;
  const MOST_CHARACTERS = 900_000;
  const FIRST_WAIT = 2_000;
  const LONGEST_WAIT = 120_000;
  const HELD_FOR = 300_000;
  const SOON = 1;
  const STALLED = 15_000;
  const post = { why: "", at: 0, sending: 0 };
  // Photos have a lane of their own, so that a slow one never stands before scans and permissions.
  const RECORDS = lane("records", (record) => record.kind !== "file");
  const PHOTOS = lane("photos", (record) => record.kind === "file");

  function lane(name, takes) {
    return { name, takes, failures: 0, timer: 0, again: false, running: false, sending: 0 };
  }

  // Locks end with their tab. Where there are none, two tabs may send the same: the server takes each UUID once.
  function alone(on, work) {
    if (!navigator.locks) return work();
    const name = `rooftally-field-sender-${on.name}`;
    return navigator.locks.request(name, { ifAvailable: true }, (lock) => (lock ? work() : SOON));
  }

  const send = () => Promise.all([run(RECORDS), run(PHOTOS)]);

  async function run(on) {
    if (on.running) {
      on.again = true;
      return;
    }
    on.running = true;
    clearTimeout(on.timer);
    let wait = SOON; // where the store cannot be read just now
    try {
      do {
        on.again = false;
        wait = await alone(on, () => round(on));
      } while (on.again);
    } catch {
      on.failures += 1;
    } finally {
      on.running = false;
      R.tell("post", post);
      if (wait) plan(on, wait);
    }
  }

  function plan(on, atLeast) {
    const longest = Math.min(LONGEST_WAIT, FIRST_WAIT * 2 ** Math.min(on.failures, 8));
    on.timer = setTimeout(() => run(on), Math.max(atLeast, longest / 2 + Math.random() * (longest / 2)));
  }

  // One look at the server and everything that may go to it now. Answers how long what is left must wait at least, in
  // milliseconds; 0 where nothing is left.
  async function round(on) {
    if (on === PHOTOS && !(await photosWait())) return 0;
    let session;
    try {
      session = await ours();
      if (!(await R.work.welcome(session))) {
        await R.network.signOut(session.csrf);
        await ours(); // which is refused now
        throw new R.network.Unanswered("busy");
      }
    } catch (error) {
      if (hasLeft(error)) await R.work.removed();
      else if (isSignedOut(error)) await R.work.left();
      return missed(on, error);
    }
    if (session.page.oldest_schema > R.facts.schema) {
      on.failures += 1;
      R.tell("too_old");
      return tell("too_old");
    }
    on.failures = 0;
    tell("");
    return sendAll(on, session);
  }

  async function photosWait() {
    const { holder } = R.work;
    return Boolean(holder) && (await R.store.waiting(holder.member)).some(PHOTOS.takes);
  }

  async function ours() {
    const { holder } = R.work;
    const asked = Date.now();
    const session = await R.network.session(holder && holder.member);
    if (session.server !== "rooftally") throw new R.network.Unanswered("not_ours");
    await R.work.compareClocks(Math.round(Date.parse(session.now) - (asked + Date.now()) / 2));
    return session;
  }

  function tell(why) {
    Object.assign(post, { why, at: Date.now() });
    R.tell("post", post);
    return why ? SOON : 0;
  }

  // In our server's own words; a Wi-Fi's sign-in page may also answer 401.
  const isSignedOut = (error) => error.kind === "problem" && [401, 403].includes(error.status);

  const hasLeft = (error) => Boolean(error.document) && error.document.code === "no_longer_member";

  function missed(on, error) {
    on.failures += 1;
    if (error.retryAfter) on.failures = Math.max(on.failures, Math.ceil(Math.log2(error.retryAfter / 2) || 1));
    if (hasLeft(error)) return tell("no_longer_member");
    return tell(isSignedOut(error) ? "signed_out" : error.kind === "problem" ? "busy" : error.kind || "offline");
  }

  async function sendAll(on, session) {
    for (;;) {
      const waiting = (await R.store.waiting(session.member)).filter(on.takes);
      const due = waiting.filter((record) => !heldFor(record));
      const batch = firstOf(due);
      if (!batch.length) return waiting.length ? Math.min(...waiting.map(heldFor)) : 0;
      nowSending(on, due.length);
      try {
        await sendBatch(session, batch);
      } catch (error) {
        return missed(on, error);
      } finally {
        nowSending(on, 0);
        R.tell("records");
      }
    }
  }

  function nowSending(on, number) {
    on.sending = number;
    post.sending = RECORDS.sending + PHOTOS.sending;
    R.tell("post", post);
  }

  // A hold longer than any that is given comes from a clock that was set back since.
  function heldFor(record) {
    const left = record.hold_until - Date.now();
    return left > 0 && left <= HELD_FOR ? left : 0;
  }

  function firstOf(records) {
    const batch = [];
    let size = 0;
    for (const record of records) {
      size += JSON.stringify(record.content).length;
      if (batch.length && (batch.length === MOST || size > MOST_CHARACTERS)) break;
      batch.push(record);
    }
    return batch;
  }

  // A batch that the server will not take as a whole is halved until the one record that spoils it stands alone.
  async function sendBatch(session, batch) {
    let answer;
    try {
      answer = await R.network.send(R.facts.records, { records: batch.map(wire) }, session.csrf, STALLED);
      if (answer.server !== "rooftally" || !Array.isArray(answer.answers)) throw new R.network.Unanswered("not_ours");
    } catch (error) {
      if (!spoiled(error)) {
        for (const record of batch) await R.store.missed(record.id, error.kind || "offline");
        throw error;
      }
      if (batch.length === 1) return R.store.missed(batch[0].id, String(error.status), Date.now() + HELD_FOR);
      const middle = Math.ceil(batch.length / 2);
      await sendBatch(session, batch.slice(0, middle));
      return sendBatch(session, batch.slice(middle));
    }
    return take(batch, answer.answers);
  }

  function spoiled(error) {
    return error instanceof R.network.Unanswered && [400, 413, 422, 500].includes(error.status);
  }

  async function take(batch, answers) {
    const sent = new Map(batch.map((record) => [record.id, record]));
    for (const answer of answers) {
      if (!sent.delete(answer.id)) continue;
      if (answer.result) await R.store.answer(answer.id, answer.result.outcome, answer.result);
      else if (isAnothers(answer)) await R.store.missed(answer.id, String(answer.status), 0);
      else if (answer.status >= 500) await R.store.missed(answer.id, unable(answer), Date.now() + HELD_FOR);
      else await R.store.answer(answer.id, "refused", { problem: answer.problem, sentence: answer.problem.detail });
    }
    // A record that the answer does not name stays as it is; it is tried again, after a while if it is passed over.
    for (const id of sent.keys()) await R.store.missed(id, "unnamed", Date.now() + FIRST_WAIT);
    if (answers.some(isAnothers)) throw new R.network.Unanswered("busy"); // somebody else signed in since we asked who
  }

  // A full disk says so in a sentence; a fault has only its number.
  const unable = ({ status, problem }) => (status === 507 && problem && problem.detail) || String(status);

  const isAnothers = ({ problem }) => Boolean(problem) && problem.code === "another_member";

  function wire(record) {
    const { id, kind, seq, installation, schema, user, member, site, made_at, page_version, content } = record;
    // What was known of the clock when it was made; else what is known now.
    const skew_ms = Number.isInteger(record.skew_ms) ? record.skew_ms : R.work.skew;
    return { id, kind, seq, installation, schema, user, member, site, made_at, skew_ms, page_version, content };
  }

  R.sender = {
    post,
    wire,
    send,
    start() {
      for (const event of ["online", "pageshow", "focus"]) window.addEventListener(event, send);
      document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && send());
      R.on("kept", send);
      return send();
    },
  };
})(window.Rooftally);
