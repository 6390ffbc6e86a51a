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
  const post = { why: "", at: 0, sending: 0 };
  let failures = 0;
  let timer = 0;
  let again = false;
  let running = false;

  // Locks end with their tab. Where there are none, two tabs may send the same: the server takes each UUID once.
  function alone(work) {
    if (!navigator.locks) return work();
    return navigator.locks.request("rooftally-field-sender", { ifAvailable: true }, (lock) => (lock ? work() : SOON));
  }

  async function send() {
    if (running) {
      again = true;
      return;
    }
    running = true;
    clearTimeout(timer);
    let wait = SOON; // where the store cannot be read just now
    try {
      do {
        again = false;
        wait = await alone(round);
      } while (again);
    } catch {
      failures += 1;
    } finally {
      running = false;
      R.tell("post", post);
      if (wait) plan(wait);
    }
  }

  function plan(atLeast) {
    const longest = Math.min(LONGEST_WAIT, FIRST_WAIT * 2 ** Math.min(failures, 8));
    timer = setTimeout(send, Math.max(atLeast, longest / 2 + Math.random() * (longest / 2)));
  }

  // One look at the server and everything that may go to it now. Answers how long what is left must wait at least, in
  // milliseconds; 0 where nothing is left.
  async function round() {
    let session;
    try {
      session = await ours();
      if (!(await R.work.welcome(session))) {
        await R.network.signOut(session.csrf);
        await ours(); // which is refused now
        throw new R.network.Unanswered("busy");
      }
    } catch (error) {
      if (isSignedOut(error)) await R.work.left();
      return missed(error);
    }
    if (session.page.oldest_schema > R.facts.schema) {
      failures += 1;
      R.tell("too_old");
      return tell("too_old");
    }
    failures = 0;
    tell("");
    return sendAll(session);
  }

  async function ours() {
    const session = await R.network.session();
    if (session.server !== "rooftally") throw new R.network.Unanswered("not_ours");
    return session;
  }

  function tell(why) {
    Object.assign(post, { why, at: Date.now() });
    R.tell("post", post);
    return why ? SOON : 0;
  }

  // In our server's own words; a Wi-Fi's sign-in page may also answer 401.
  const isSignedOut = (error) => error.kind === "problem" && [401, 403].includes(error.status);

  function missed(error) {
    const signedOut = isSignedOut(error);
    failures += 1;
    if (error.retryAfter) failures = Math.max(failures, Math.ceil(Math.log2(error.retryAfter / 2) || 1));
    return tell(signedOut ? "signed_out" : error.kind === "problem" ? "busy" : error.kind || "offline");
  }

  async function sendAll(session) {
    for (;;) {
      const waiting = await R.store.waiting(session.member);
      const due = waiting.filter((record) => !heldFor(record));
      const batch = firstOf(due);
      if (!batch.length) return waiting.length ? Math.min(...waiting.map(heldFor)) : 0;
      post.sending = due.length;
      R.tell("post", post);
      try {
        await sendBatch(session, batch);
      } catch (error) {
        return missed(error);
      } finally {
        post.sending = 0;
        R.tell("records");
      }
    }
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
      answer = await R.network.post(R.facts.records, { records: batch.map(wire) }, session.csrf, 15_000);
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
    return { id, kind, seq, installation, schema, user, member, site, made_at, page_version, content };
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
