/* Nobody is signed in: what was kept so that the swap table opens without reception goes.
   What waits to be sent stays, until the one who did it signs in. */
(function () {
  "use strict";

  if (!window.caches) {
    return;
  }
  caches
    .keys()
    .then((names) =>
      Promise.all(
        names
          .filter((name) => name.startsWith("sowback-table-"))
          .map((name) => caches.open(name))
      )
    )
    .then((kept) =>
      Promise.all(
        kept.flatMap((cache) => [cache.delete("/table/"), cache.delete(new URL("people", location.origin + "/table/"))])
      )
    );

  const done = (name) => (database) => database.name === name;
  if (!window.indexedDB || !indexedDB.databases) {
    return;
  }
  indexedDB.databases().then((all) => {
    if (!all.some(done("sowback-table"))) {
      return;
    }
    const opening = indexedDB.open("sowback-table");
    opening.onsuccess = () => {
      const db = opening.result;
      if (!db.objectStoreNames.contains("done")) {
        db.close();
        return;
      }
      const transaction = db.transaction("done", "readwrite");
      const over = ["sent", "needless", "seen"];
      transaction.objectStore("done").openCursor().onsuccess = (event) => {
        const cursor = event.target.result;
        if (!cursor) {
          return;
        }
        if (over.includes(cursor.value.state)) {
          cursor.delete();
        }
        cursor.continue();
      };
      transaction.oncomplete = () => db.close();
    };
  });
})();
