"use strict";
// Unsent records that somebody leaves on the phone: only their member's next session, or the office, can open them.
(function (R) {
  const able = Boolean(window.crypto && window.crypto.subtle);
  const bytes = (text) => Uint8Array.from(atob(text), (symbol) => symbol.charCodeAt(0));

  function text(buffer) {
    let binary = "";
    for (const byte of new Uint8Array(buffer)) binary += String.fromCharCode(byte);
    return btoa(binary);
  }

  const rule = (iv, member) => ({ name: "AES-GCM", iv, additionalData: new TextEncoder().encode(member) });

  // The key cannot be read out of the phone's store, only used.
  const key = (encoded) =>
    able && encoded ? crypto.subtle.importKey("raw", bytes(encoded), "AES-GCM", false, ["encrypt", "decrypt"]) : null;

  async function close(with_, member, records) {
    const iv = crypto.getRandomValues(new Uint8Array(12));
    const plain = new TextEncoder().encode(JSON.stringify(records));
    const data = await crypto.subtle.encrypt(rule(iv, member), with_, plain);
    return { iv: text(iv), data: text(data), count: records.length };
  }

  async function open(with_, member, parcel) {
    const plain = await crypto.subtle.decrypt(rule(bytes(parcel.iv), member), with_, bytes(parcel.data));
    return JSON.parse(new TextDecoder().decode(plain));
  }

  R.seal = { key, close, open };
})((window.Rooftally ||= {}));
