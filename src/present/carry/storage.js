// Keeps track, finds and settings in the browser's database, so that they survive restarts; in memory where there
// is none, which the page says.
const storage = (() => {
  const NAME = "trug-carry", STORES = ["track", "finds", "undone", "settings"];
  let base = null;
  const memory = Object.fromEntries(STORES.map((store) => [store, new Map()]));

  const asked = (request) => new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  const opened = async () => {
    try {
      const request = indexedDB.open(NAME, 1);
      request.onupgradeneeded = () => {
        request.result.createObjectStore("track", { autoIncrement: true });
        for (const store of STORES.slice(1)) request.result.createObjectStore(store, { keyPath: "key" });
      };
      base = await asked(request);
      if (navigator.storage && navigator.storage.persist) navigator.storage.persist().catch(() => false);
    } catch (error) {
      base = null;
    }
    return base !== null;
  };
  const within = (store, mode) => base.transaction(store, mode).objectStore(store);
  const done = (transaction) => new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onerror = () => reject(transaction.error);
    transaction.onabort = () => reject(transaction.error);
  });

  const all = async (store) => (base ? asked(within(store, "readonly").getAll()) : [...memory[store].values()]);
  const put = async (store, value) => {
    if (!base) {
      memory[store].set(value.key === undefined ? memory[store].size : value.key, value);
      return;
    }
    // a find must survive the end of the battery; of a track a few seconds may be lost
    const transaction = base.transaction(store, "readwrite", { durability: store === "track" ? "relaxed" : "strict" });
    transaction.objectStore(store).put(value);
    await done(transaction);
  };
  const drop = async (store, key) => {
    if (!base) memory[store].delete(key);
    else await asked(within(store, "readwrite").delete(key));
  };
  const wipe = async () => {
    STORES.forEach((store) => memory[store].clear());
    if (base) {
      base.close();
      base = null;
      await asked(indexedDB.deleteDatabase(NAME)).catch(() => null);
    }
    if (self.caches) {
      const names = await caches.keys();
      await Promise.all(names.filter((name) => name.startsWith("trug-carry-")).map((name) => caches.delete(name)));
    }
    if (navigator.serviceWorker && document.body.dataset.worker) {
      const workers = await navigator.serviceWorker.getRegistrations();
      await Promise.all(workers.map((worker) => worker.unregister()));
    }
  };

  return { opened, all, put, drop, wipe };
})();
