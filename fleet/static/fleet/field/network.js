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
    return understood(answer.status, text, (name) => answer.headers.get(name));
  }

  function understood(status, text, header) {
    const document = parsed(text);
    if (status >= 200 && status < 300 && document) return document;
    const isProblem = (header("Content-Type") || "").startsWith("application/problem+json");
    if (isProblem && document) throw new Unanswered("problem", status, document, Number(header("Retry-After")) || 0);
    throw new Unanswered(status >= 500 || status === 429 ? "busy" : "not_ours", status);
  }

  const SLOWEST = 4; // bytes a millisecond

  // What is sent may take as long as it takes; it is given up only when nothing moves any more. Once all of it is handed
  // to the system, nothing is seen to move while a slow network carries it: then its length says how long to wait.
  function sendWithoutStalling(address, body, headers, stall) {
    return new Promise((done, failed) => {
      const request = new XMLHttpRequest();
      let timer = 0;
      const wait = (longest) => {
        clearTimeout(timer);
        timer = setTimeout(() => request.abort(), longest);
      };
      const moved = () => wait(stall);
      request.open("POST", address);
      for (const [name, value] of Object.entries(headers)) request.setRequestHeader(name, value);
      for (const target of [request, request.upload]) target.addEventListener("progress", moved);
      request.upload.addEventListener("load", () => wait(stall + body.length / SLOWEST));
      request.addEventListener("loadend", () => {
        clearTimeout(timer);
        const elsewhere = request.responseURL && request.responseURL !== new URL(address, window.location).href;
        if (!request.status || elsewhere) return failed(new Unanswered("offline"));
        try {
          return done(understood(request.status, request.responseText, (name) => request.getResponseHeader(name)));
        } catch (error) {
          return failed(error);
        }
      });
      moved();
      request.send(body);
    });
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
    session: (member) => ask(member ? `${R.facts.session}?member=${member}` : R.facts.session, 5000, {}),
    // The answer is a redirect to somewhere: whether it was done, the next look at the session tells.
    signOut: (csrf) =>
      within(5000, (signal) =>
        fetch(R.facts.sign_out, {
          method: "POST", credentials: "same-origin", redirect: "manual", headers: { "X-CSRFToken": csrf }, signal,
        })).catch(() => {}),
    send: (address, body, csrf, stall) =>
      sendWithoutStalling(address, JSON.stringify(body), {
        Accept: "application/json", "Content-Type": "application/json", "X-CSRFToken": csrf,
      }, stall),
    post: (address, body, csrf, limit, headers) =>
      ask(address, limit, {
        method: "POST",
        headers: { "Content-Type": "application/json", "X-CSRFToken": csrf, ...headers },
        body: JSON.stringify(body),
      }),
  };
})(window.Rooftally);
