"use strict";
// One question to our server, with a limit on its time. navigator.onLine is never asked: it says yes on a dead Wi-Fi.
(function (R) {
  class Unanswered extends Error {
    constructor(kind, status, document, retryAfter) {
      super(kind);
      this.kind = kind;
      this.status = status || 0;
      this.document = document || null;
      this.retryAfter = retryAfter || 0;
    }
  }

  async function within(limit, work) {
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), limit);
    try {
      return await work(stop.signal);
    } finally {
      clearTimeout(timer);
    }
  }

  const ask = (address, limit, options) => within(limit, (signal) => answered(address, { ...options, signal }));

  async function answered(address, options) {
    let answer;
    let text;
    try {
      answer = await fetch(address, {
        redirect: "error", cache: "no-store", credentials: "same-origin",
        ...options, headers: { Accept: "application/json", ...options.headers },
      });
      text = await answer.text();
    } catch {
      throw new Unanswered("offline");
    }
    const document = parsed(text);
    if (answer.ok && document) return document;
    const isProblem = (answer.headers.get("Content-Type") || "").startsWith("application/problem+json");
    if (isProblem && document) {
      throw new Unanswered("problem", answer.status, document, Number(answer.headers.get("Retry-After")) || 0);
    }
    throw new Unanswered(answer.status >= 500 || answer.status === 429 ? "busy" : "not_ours", answer.status);
  }

  function parsed(text) {
    try {
      return JSON.parse(text);
    } catch {
      return null;
    }
  }

  R.network = {
    Unanswered,
    session: () => ask(R.facts.session, 5000, {}),
    // The answer is a redirect to somewhere: whether it was done, the next look at the session tells.
    signOut: (csrf) =>
      within(5000, (signal) =>
        fetch(R.facts.sign_out, {
          method: "POST", credentials: "same-origin", redirect: "manual", headers: { "X-CSRFToken": csrf }, signal,
        })).catch(() => {}),
    post: (address, body, csrf, limit, headers) =>
      ask(address, limit, {
        method: "POST",
        headers: { "Content-Type": "application/json", "X-CSRFToken": csrf, ...headers },
        body: JSON.stringify(body),
      }),
  };
})(window.Rooftally);
