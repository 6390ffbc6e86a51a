"use strict";
// Whoever signs out on any page also leaves the field page of this phone: the day's work and the answered records go,
// what was not sent is sealed. The same step as the field page's own, without its libraries.
(function (R) {
  const SEALED = "sealed:";
  const unsent = (record) =>
    record.state === "waiting" || (record.state === "refused" && Boolean(record.result && record.result.problem));
  const answer = (request) =>
    new Promise((done, failed) => {
      request.onsuccess = () => done(request.result);
      request.onerror = () => failed(request.error);
    });

  function opened() {
    const opening = indexedDB.open("rooftally-field");
    opening.onupgradeneeded = () => opening.transaction.abort(); // this browser never opened the field page
    opening.onblocked = () => {};
    return answer(opening);
  }

  const recordsOf = (records, member) =>
    answer(records.index("by_member").getAll(IDBKeyRange.bound([member, 0], [member, Infinity])));

  async function leavePhone() {
    const database = await opened();
    try {
      for (let turn = 0; turn < 5 && !(await leaveOnce(database)); turn += 1);
    } finally {
      database.close();
    }
  }

  async function leaveOnce(database) {
    const reading = database.transaction(["records", "facts"]);
    const [holder, key] = await Promise.all(["holder", "key"].map((name) => answer(reading.objectStore("facts").get(name))));
    if (!holder) return true;
    const left = (await recordsOf(reading.objectStore("records"), holder.member)).filter(unsent);
    const parcel = key ? await R.seal.close(key, holder.member, left) : null;
    return wipe(database, holder.member, left, parcel);
  }

  async function wipe(database, member, left, parcel) {
    const change = database.transaction(["records", "facts"], "readwrite", { durability: "strict" });
    const ended = new Promise((done, failed) => {
      change.oncomplete = done;
      change.onabort = failed;
    });
    const [records, facts] = [change.objectStore("records"), change.objectStore("facts")];
    const all = await recordsOf(records, member);
    const same = all.filter(unsent).map((record) => record.id).join() === left.map((record) => record.id).join();
    if (parcel && !same) return false;
    for (const record of all) if (parcel || !unsent(record)) records.delete(record.id);
    if (parcel && parcel.count) {
      const before = (await answer(facts.get(SEALED + member))) || [];
      facts.put([...before, parcel], SEALED + member);
    }
    for (const name of ["holder", "key", "work", "place", "place_at"]) facts.delete(name);
    await ended;
    return true;
  }

  R.leavePhone = leavePhone;
})((window.Rooftally ||= {}));
