"use strict";
// What the phone itself makes of a payload: enough to show it, to know a plate, and to keep nothing of a secret.
// The register's decoder has the last word.
(function (R) {
  const SYMBOLS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"; // Crockford's Base32, https://www.crockford.com/base32.html
  const LINEAR = /^\](?:A|B|C|E|F|G|I)/;

  function siteCode(text) {
    const code = text.replace(/[\s\u00a0\u2010-\u2014\u2212-]/g, "").toUpperCase()
      .replace(/O/g, "0").replace(/[IL]/g, "1");
    if (code.length !== 8 || [...code].some((symbol) => !SYMBOLS.includes(symbol))) return null;
    let value = 0;
    for (const symbol of code.slice(0, 7)) value = (value * 32 + SYMBOLS.indexOf(symbol)) % 37;
    return value === SYMBOLS.indexOf(code[7]) ? `${code.slice(0, 4)}-${code.slice(4)}` : null;
  }

  function plateCode(raw) {
    const start = `${R.facts.base_url}/s/`.toLowerCase();
    const text = raw.trim();
    const here = `${window.location.origin}/s/`.toLowerCase();
    for (const known of [start, here]) {
      if (text.toLowerCase().startsWith(known)) return siteCode(text.slice(known.length).replace(/\/$/, ""));
    }
    return null;
  }

  function refusedFamily(raw) {
    const text = raw.replace(new RegExp(R.facts.refused_before), "").replace(/\r\n/g, "\n").toUpperCase()
      .replace(/^([A-Z-]+)\s*:\s*/, "$1:");
    for (const [start, family] of Object.entries(R.facts.refused_starts)) {
      if (text.startsWith(start)) return family;
    }
    return null;
  }

  // As fleet/labels/secrets.py: what stands after a word for a password is replaced before anything is kept.
  const GS1 = /^\](?:C1|e0|d[258]|Q[34]|J1|z1|E[04]|I1)$/;
  const WITHHELD = /^withheld(?:-[0-9a-f]{16})?$/;

  function withhold(text, format) {
    if (GS1.test(format || "") || refusedFamily(text)) return text;
    let shown = "";
    let taken = 0;
    for (const [start, end] of secretSpans(text)) {
      if (start < taken || start === end || WITHHELD.test(text.slice(start, end))) continue;
      const bare = "{[".includes(text[0]) && !"\"'".includes(text[start - 1]);
      shown += text.slice(taken, start) + (bare ? '"withheld"' : "withheld");
      taken = end;
    }
    return shown + text.slice(taken);
  }

  function secretSpans(text) {
    const { always, beside, context, family, address } = R.facts.secrets;
    const keys = new RegExp(context, "i").test(text) ? `${always}|${beside}` : always;
    const ends = (pattern) => [...text.matchAll(new RegExp(pattern, "gi"))].map((found) => found.index + found[0].length);
    const until = (mark, start) => (text.includes(mark, start) ? text.indexOf(mark, start) : text.length);
    return [
      ...ends(keys).map((start) => secretValue(text, start)),
      ...ends(address).map((start) => [start, until("@", start)]),
      ...ends(family).map((start) => [start, until(";;", start)]),
    ].sort((one, other) => one[0] - other[0] || one[1] - other[1]);
  }

  function secretValue(text, start) {
    const rest = text.slice(start);
    const quoted = /^(?:"(?:[^"\\]|\\[^])*"|'(?:[^'\\]|\\[^])*')/.exec(rest);
    if (quoted) return [start + 1, start + quoted[0].length - 1];
    const following = new RegExp(R.facts.secrets.next, "i").exec(rest);
    if (following) return [start, start + following.index];
    return [start, "{[".includes(text[0]) ? start + /[\s}\]]*$/.exec(rest).index : text.length];
  }

  // The serial that a person would look for on the label: what follows AI 21, DI S or a link's /21/; else the text.
  function serial(text) {
    const tries = [
      /\/21\/([^/?#]+)/, /\(21\)([^(]+)/, /^01\d{14}21(.+?)(?: |$)/, / 21(.+?)(?: |$)/, / S([^ ]+)/,
      /[?&](?:sn|serial)=([^&#]+)/i,
    ];
    for (const pattern of tries) {
      const found = pattern.exec(text);
      if (found) return decoded(found[1]);
    }
    return decoded(text);
  }

  const printable = (raw) => raw.replace(/[\u0000-\u001f\u007f]/g, " ").trim();

  function shown(raw) {
    const text = serial(printable(raw));
    return text.length > 40 ? `…${text.slice(-39)}` : text;
  }

  // Whether this label is of the device with this serial: the serial stands in it whole, never as a part of a longer one.
  function names(raw, wanted) {
    const text = printable(raw);
    if (serial(text) === wanted) return true;
    if (wanted.length < 6) return false;
    const isPart = (symbol) => /[A-Za-z0-9]/.test(symbol || "");
    for (let at = text.indexOf(wanted); at >= 0; at = text.indexOf(wanted, at + 1)) {
      if (!isPart(text[at - 1]) && !isPart(text[at + wanted.length])) return true;
    }
    return false;
  }

  function decoded(text) {
    try {
      return decodeURIComponent(text);
    } catch {
      return text;
    }
  }

  R.labels = {
    siteCode, plateCode, refusedFamily, withhold, shown, names, isLinear: (symbology) => LINEAR.test(symbology),
  };
})(window.Rooftally);
