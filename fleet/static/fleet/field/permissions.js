"use strict";
// What the owner allows, asked one by one under the wording that is shown, and recorded as exactly what it is.
(function (R) {
  const { element, make, say } = R;
  const PURPOSES = ["contact", "monitoring", "home_network"];
  let pad = null;

  const owner = () => R.work.site && R.work.site.owners.find((each) => each.id === element("owner").value);
  const chosen = (name) => (document.querySelector(`#permission-form input[name="${name}"]:checked`) || {}).value;

  function purpose(name, person) {
    const wording = R.work.wording(name, person.language);
    const known = person.permissions[name];
    const choice = (value, word) =>
      make("label", { class: "choice" },
        make("input", { type: "radio", name: `say_${name}`, value, disabled: !wording }), say(word));
    return make(
      "fieldset", { class: "card" },
      make("legend", {}, say(`purpose_${name}`)),
      make("p", { class: "wording", lang: wording ? wording.language : null }, wording ? wording.text : say("no_wording")),
      known ? make("p", { class: "hint" }, say("standing_now", { state: say(`state_${known}`) })) : "",
      choice("given", "say_yes"), choice("refused", "say_no"), choice("", "say_later"),
    );
  }

  // Nothing that one owner said or signed may be kept as another's.
  function drawPerson() {
    element("purposes").replaceChildren(...(owner() ? PURPOSES.map((name) => purpose(name, owner())) : []));
    element("reference").value = "";
    pad.clear();
  }

  // Drawn anew only when the site changes: an answer half given must not vanish when the network comes back.
  let drawnFor = "";
  function draw() {
    const site = R.work.site;
    const owners = site ? site.owners : [];
    element("no-owners").hidden = !R.work.place || owners.length > 0;
    element("permission-form").hidden = !owners.length;
    const key = JSON.stringify([R.work.place, owners.map((each) => each.id)]);
    if (key === drawnFor) return;
    drawnFor = key;
    const people = owners.map((each) => make("option", { value: each.id }, each.name));
    // Of several owners a person says whose answers these are.
    element("owner").replaceChildren(...(people.length > 1 ? [make("option", { value: "" }, say("choose_owner"))] : []), ...people);
    element("permission-say").textContent = "";
    drawPerson();
  }

  function drawHow() {
    const how = chosen("how");
    element("how-paper").hidden = how !== "paper_reference";
    element("how-signature").hidden = how !== "signature";
    element("how-spoken").hidden = how !== "staff_statement";
  }

  function fault(answers) {
    const how = chosen("how");
    if (!answers.length) return "consent_nothing";
    if (!how) return "consent_how";
    if (how === "paper_reference" && !element("reference").value.trim()) return "consent_reference";
    if (how === "signature" && !pad.signed) return "consent_signature";
    return "";
  }

  async function keep(event) {
    event.preventDefault();
    const words = element("permission-say");
    const answers = PURPOSES.map((name) => [name, chosen(`say_${name}`)]).filter(([, said]) => said);
    const wrong = fault(answers);
    if (wrong) {
      words.textContent = say(wrong);
      R.sound.bad();
      return;
    }
    const person = owner();
    const contents = answers.map(([name, said]) => content(name, said, person));
    if (!(await R.capture.keepAll("consent", R.work.place, contents))) {
      words.textContent = `${say("store_failed")}. ${say("store_failed_text")}`;
      return;
    }
    R.sound.good();
    words.textContent = say("consent_kept", { count: answers.length, name: person.name });
    drawPerson();
  }

  function content(name, said, person) {
    const how = chosen("how");
    const wording = R.work.wording(name, person.language);
    return {
      owner: person.id, purpose: name, state: said, how,
      wording_version: wording.version, wording_language: wording.language,
      ...(how === "paper_reference" ? { reference: element("reference").value.trim() } : {}),
      ...(how === "signature" ? { signature: pad.picture() } : {}),
    };
  }

  function start() {
    pad = R.signaturePad(element("pad"));
    element("pad-clear").addEventListener("click", () => pad.clear());
    element("owner").addEventListener("change", drawPerson);
    element("permission-form").addEventListener("change", drawHow);
    element("permission-form").addEventListener("submit", keep);
    R.on("forgotten", () => (drawnFor = ""));
    for (const event of ["forgotten", "work", "place"]) R.on(event, draw);
  }

  R.permissions = { start };
})(window.Rooftally);
