"use strict";
// Choosing the site: from the day's list, by its code, by its plate or by a device that stands there.
(function (R) {
  const { element, make, say } = R;

  function line(site) {
    const expected = site.expected.filter((device) => !device.done).length;
    const facts = [];
    if (expected) facts.push(expected === 1 ? say("one_device_expected") : say("devices_expected", { count: expected }));
    const standing = site.standing.length;
    if (standing) facts.push(standing === 1 ? say("one_device_stands") : say("devices_standing", { count: standing }));
    const chosen = site.code === R.work.place;
    return make(
      "li", {},
      make(
        "button",
        { type: "button", class: "place", "aria-pressed": String(chosen), onclick: () => arrive(site.code) },
        make("span", { class: "place-address" }, site.name ? `${site.name}, ${site.address}` : site.address),
        make("span", { class: "place-code" }, site.code),
        make("span", { class: "place-facts" }, facts.join(" · ")),
      ),
    );
  }

  async function arrive(code) {
    await R.work.go(code);
    window.location.hash = "#scan";
  }

  const folded = (text) => text.normalize("NFKD").replace(/[\u0300-\u036f]/g, "").toLowerCase().trim();

  function found() {
    const wanted = folded(element("place-code").value);
    return R.work.sites().filter((site) => folded(`${site.name} ${site.address} ${site.code}`).includes(wanted));
  }

  function draw() {
    element("places-sign-in").hidden = Boolean(R.work.holder);
    const list = element("place-list");
    const sites = found();
    if (sites.length) {
      list.replaceChildren(
        make("h2", {}, say("today")),
        make("ul", { class: "place-list" }, ...sites.map(line)),
      );
    } else {
      const key = R.work.sites().length ? "no_match" : R.work.isRemoved ? "no_sites_removed" : R.work.expired ? "sites_old" : "no_sites";
      list.replaceChildren(make("p", { class: "say" }, say(key, { hours: R.work.keptHours })));
    }
    const site = R.work.site;
    element("where-code").textContent = R.work.place || say("no_site");
    element("where-address").textContent = R.work.place
      ? (site ? site.address : say("unknown_address"))
      : say("choose_first");
    for (const part of document.querySelectorAll(".needs-place")) part.hidden = Boolean(R.work.place);
    for (const part of document.querySelectorAll(".with-place")) part.hidden = !R.work.place;
  }

  function start() {
    element("where").addEventListener("click", () => (window.location.hash = "#places"));
    element("place-code").addEventListener("input", draw);
    element("place-form").addEventListener("submit", (event) => {
      event.preventDefault();
      const written = element("place-code").value;
      const only = written.trim() && found().length === 1 ? found()[0].code : null;
      const code = R.labels.siteCode(written) || only;
      element("place-say").textContent = code ? say("at_site", { code }) : say("bad_code");
      if (!code) return;
      element("place-code").value = "";
      arrive(code);
    });
    R.on("work", draw);
    R.on("place", draw);
  }

  R.places = { start, draw };
})(window.Rooftally);
