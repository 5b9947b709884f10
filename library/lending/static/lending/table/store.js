/* What was done is kept on the phone before anything is sent, and until a person has seen what
   became of it. Every change of one entry is one transaction, so two tabs lose nothing. */

const NAME = "sowback-table";
const STORE = "done";

const asked = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

const finished = (transaction) =>
  new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onabort = () => reject(transaction.error);
    transaction.onerror = () => reject(transaction.error);
  });

const open = () => {
  const request = indexedDB.open(NAME, 1);
  request.onupgradeneeded = () => request.result.createObjectStore(STORE, { keyPath: "order", autoIncrement: true });
  return asked(request);
};

export const openStore = async () => {
  const db = await open();
  db.onversionchange = () => db.close();
  if (navigator.storage && navigator.storage.persist) {
    navigator.storage.persist().catch(() => {}); // a wish; the queue is kept either way
  }
  const within = async (mode, act) => {
    const transaction = db.transaction(STORE, mode, { durability: "strict" });
    const done = finished(transaction);
    const result = await act(transaction.objectStore(STORE));
    await done;
    return result;
  };
  return {
    all: () => within("readonly", (store) => asked(store.getAll())),
    get: (order) => within("readonly", (store) => asked(store.get(order))),
    add: (entry) => within("readwrite", (store) => asked(store.add(entry))),
    remove: (order) => within("readwrite", (store) => asked(store.delete(order))),
    /* Read it, let ``change`` have it, write it: nobody comes between. ``change`` may refuse
       with ``false``; what is kept then stays. */
    change: (order, change) =>
      within("readwrite", async (store) => {
        const entry = await asked(store.get(order));
        if (!entry || change(entry) === false) {
          return null;
        }
        await asked(store.put(entry));
        return entry;
      }),
  };
};

/* A name that no other request has, also where the page is not served over TLS. */
export const freshKey = () =>
  Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) =>
    byte.toString(16).padStart(2, "0")
  ).join("");
