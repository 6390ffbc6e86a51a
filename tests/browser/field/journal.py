"""Watches from inside the page in which order a record becomes durable, is shown as kept, and is heard."""

WATCH = """(() => {
  window.journal = [];
  const adding = new WeakSet();
  const begin = IDBDatabase.prototype.transaction;
  IDBDatabase.prototype.transaction = function (...given) {
    const begun = begin.apply(this, given);
    // Listens before the page can, and so hears of it first.
    begun.addEventListener("complete", () => adding.has(begun) && window.journal.push(`durable ${begun.durability}`));
    return begun;
  };
  const add = IDBObjectStore.prototype.add;
  IDBObjectStore.prototype.add = function (...values) {
    adding.add(this.transaction);
    return add.apply(this, values);
  };
  Rooftally.on("result", ({ tone }) => window.journal.push(`shown ${tone}`));
  for (const tone of ["good", "bad"]) {
    const sound = Rooftally.sound[tone];
    Rooftally.sound[tone] = () => (window.journal.push(`heard ${tone}`), sound());
  }
})()"""
KEPT = ["durable strict", "shown good", "heard good"]


def accepted(journal: list[str]) -> list[str]:
    """The journal without the sentences in between ("reading the photo")."""
    return [line for line in journal if line != "shown plain"]
