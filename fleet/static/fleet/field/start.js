"use strict";
// What every part of the field page stands on: its facts, its words, and a few ways to make elements.
(function () {
  const read = (id) => JSON.parse(document.getElementById(id).textContent);
  const WORDS = read("words");

  function say(key, values) {
    const sentence = WORDS[key] || key;
    return sentence.replace(/\{(\w+)\}/g, (_all, name) => (values && name in values ? values[name] : ""));
  }

  function make(tag, attributes, ...children) {
    const element = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes || {})) {
      if (value === null || value === undefined || value === false) continue;
      if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
      else element.setAttribute(name, value === true ? "" : value);
    }
    element.append(...children.filter((child) => child !== null && child !== undefined && child !== ""));
    return element;
  }

  // crypto.randomUUID exists in secure contexts only; this works in both (RFC 9562, version 4).
  function uuid() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
    return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
  }

  function clock(moment) {
    return new Date(moment).toLocaleTimeString(document.documentElement.lang, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  }

  const listeners = new Map();

  window.Rooftally = {
    facts: read("facts"),
    say,
    make,
    uuid,
    clock,
    element: (id) => document.getElementById(id),
    pause: (milliseconds) => new Promise((done) => setTimeout(done, milliseconds)),
    on(event, listener) {
      listeners.set(event, [...(listeners.get(event) || []), listener]);
    },
    tell(event, detail) {
      for (const listener of listeners.get(event) || []) listener(detail);
    },
  };
})();
