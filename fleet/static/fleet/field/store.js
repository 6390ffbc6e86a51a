"use strict";
// The phone's store. A record is durable before anybody hears of it, and changes only by an answer naming its UUID.
(function (R) {
  const NAME = "rooftally-field";
  const STRICT = { durability: "strict" };
  let opened = null;

  function open() {
    opened ||= idb.openDB(NAME, 1, {
      upgrade(database) {
        const records = database.createObjectStore("records", { keyPath: "id" });
        records.createIndex("by_member", ["member", "seq"]);
        records.createIndex("by_state", ["member", "state", "seq"]);
        database.createObjectStore("facts");
      },
      blocking() {
        closeUp();
      },
      terminated() {
        opened = null;
      },
    });
    opened.catch(() => {
      opened = null;
    });
    return opened;
  }

  function closeUp() {
    const closing = opened;
    opened = null;
    if (closing) closing.then((database) => database.close(), () => {});
  }

  // An exception alone would let the half that was written be committed.
  function undo(transaction) {
    if (!transaction) return;
    transaction.done.catch(() => {});
    try {
      transaction.abort();
    } catch {
      return; // it is over already
    }
  }

  // A connection can die while the page sleeps (seen on iOS): open it anew and try once more.
  async function within(mode, work) {
    for (let attempt = 0; ; attempt += 1) {
      let transaction = null;
      try {
        transaction = (await open()).transaction(["records", "facts"], mode, STRICT);
        const value = await work(transaction.objectStore("records"), transaction.objectStore("facts"));
        await transaction.done;
        return value;
      } catch (error) {
        undo(transaction);
        if (attempt || error.name === "QuotaExceededError" || error.name === "ConstraintError") throw error;
        closeUp();
      }
    }
  }

  // The sequence number is drawn in the transaction that keeps the record: no gap between two that were kept.
  // What belongs together is kept together or not at all.
  function add(...made) {
    return within("readwrite", async (records, facts) => {
      const installation = (await facts.get("installation")) || R.uuid();
      const skew = await facts.get("skew");
      const last = (await facts.get("seq")) || 0;
      const kept = made.map((record, place) => ({
        id: R.uuid(), installation, seq: last + 1 + place, schema: R.facts.schema, page_version: R.facts.version,
        made_at: new Date().toISOString(), skew_ms: skew === undefined ? null : skew, state: "waiting", attempts: 0, last_error: "", hold_until: 0, result: null,
        ...record,
      }));
      await facts.put(installation, "installation");
      await facts.put(last + kept.length, "seq");
      for (const record of kept) await records.add(record);
      return kept;
    });
  }

  // All of the changes or none; null takes a fact away. `decide` may look at what is there, and ask for no change.
  function changeFacts(decide) {
    return within("readwrite", async (_records, facts) => {
      const changes = await decide((name) => facts.get(name));
      for (const [name, value] of Object.entries(changes)) {
        await (value === null ? facts.delete(name) : facts.put(value, name));
      }
    });
  }

  function change(id, only, changes) {
    return within("readwrite", async (records) => {
      const record = await records.get(id);
      if (!record || !only(record)) return null;
      Object.assign(record, changes);
      await records.put(record);
      return record;
    });
  }

  const waits = (record) => record.state === "waiting";
  // What the office does not have: it waits, or was refused and is only here.
  const unsent = (record) => waits(record) || (record.state === "refused" && Boolean(record.result && record.result.problem));
  const SEALED = "sealed:";
  const ofMember = (member) => IDBKeyRange.bound([member, 0], [member, Infinity]);

  // A person leaves: their answered records go, what they had not sent is sealed, and the day's work is wiped; all of it
  // or nothing. False where records came meanwhile that the parcel does not hold. Without a key they stay as they are.
  function leave(member, sealed, parcel, changes) {
    return within("readwrite", async (records, facts) => {
      const all = await records.index("by_member").getAll(ofMember(member));
      const left = all.filter(unsent).map((record) => record.id);
      if (parcel && left.join() !== sealed.join()) return false;
      for (const record of all) if (parcel || !unsent(record)) await records.delete(record.id);
      if (parcel && parcel.count) {
        const before = (await facts.get(SEALED + member)) || [];
        await facts.put([...before, parcel], SEALED + member);
      }
      for (const [name, value] of Object.entries(changes)) {
        await (value === null ? facts.delete(name) : facts.put(value, name));
      }
      return true;
    });
  }

  // Their records again, once their member is back; the parcels go in the same step.
  function unseal(member, opened) {
    return within("readwrite", async (records, facts) => {
      for (const record of opened) await records.put(record);
      await facts.delete(SEALED + member);
    });
  }

  // Answered ones that the office has had for a week.
  function dropAnswered(before) {
    return within("readwrite", async (records) => {
      const old = (await records.getAll()).filter((record) => !unsent(record) && Date.parse(record.answered_at) < before);
      for (const record of old) await records.delete(record.id);
      return old.length;
    });
  }

  const sealedCount = async (facts, member, others) => {
    const names = await facts.getAllKeys(IDBKeyRange.bound(SEALED, `${SEALED}\uffff`));
    let count = 0;
    for (const name of names) {
      if ((name === SEALED + member) !== others) {
        for (const parcel of await facts.get(name)) count += parcel.count;
      }
    }
    return count;
  };

  R.store = {
    open,
    add,
    get: (id) => within("readonly", (records) => records.get(id)),
    all: (member) =>
      within("readonly", (records) =>
        records.index("by_member").getAll(IDBKeyRange.bound([member, 0], [member, Infinity]))),
    waiting: (member) =>
      within("readonly", (records) =>
        records.index("by_state").getAll(IDBKeyRange.bound([member, "waiting", 0], [member, "waiting", Infinity]))),
    countOfOthers: (member) =>
      within("readonly", async (records, facts) =>
        (await records.getAll()).filter((record) => record.member !== member && waits(record)).length +
        (await sealedCount(facts, member, true))),
    // All that waits of a member, sealed or not.
    countWaiting: (member) =>
      within("readonly", async (records, facts) =>
        (await records.index("by_member").getAll(ofMember(member))).filter(waits).length +
        (await sealedCount(facts, member, false))),
    unsent: (member) =>
      within("readonly", async (records) => (await records.index("by_member").getAll(ofMember(member))).filter(unsent)),
    parcels: () =>
      within("readonly", async (_records, facts) => {
        const names = await facts.getAllKeys(IDBKeyRange.bound(SEALED, `${SEALED}\uffff`));
        const found = [];
        for (const name of names) found.push([name.slice(SEALED.length), await facts.get(name)]);
        return found;
      }),
    leave,
    unseal,
    dropAnswered,
    // The bytes of a photo are let go once the office has them; everything else of a record stays as it was made.
    answer: (id, state, result) =>
      within("readwrite", async (records) => {
        const record = await records.get(id);
        if (!record || !waits(record)) return null;
        const { data, signature, ...content } = record.content;
        const done = state !== "refused";
        await records.put({
          ...record, state, result, answered_at: new Date().toISOString(), last_error: "",
          content: done ? content : record.content,
        });
        return record;
      }),
    missed: (id, error, hold) =>
      within("readwrite", async (records) => {
        const record = await records.get(id);
        if (!record || !waits(record)) return;
        await records.put({ ...record, attempts: record.attempts + 1, last_error: error, hold_until: hold || 0 });
      }),
    sendAgain: (id) =>
      change(id, (record) => record.state === "refused" && Boolean(record.result.problem), {
        state: "waiting", result: null, hold_until: 0, attempts: 0,
      }),
    note: (id, name, value) => change(id, () => true, { [name]: value }),
    facts: (...names) => within("readonly", (_records, facts) => Promise.all(names.map((name) => facts.get(name)))),
    changeFacts,
  };
})(window.Rooftally);
