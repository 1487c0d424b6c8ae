// The phone's own database of the rounds: what is to be sent, photos, drafts, and what the
// page knows. A promise of this file is kept when the transaction is on the disk.
'use strict';
const roundStore = (() => {
  const names = ['queue', 'photos', 'drafts', 'known'];
  let opened;

  function open() {
    opened ??= new Promise((resolve, reject) => {
      if (!self.indexedDB) { reject(new Error('This browser has no database of its own.')); return; }
      const r = indexedDB.open('underlamp-rounds', 1);
      r.onupgradeneeded = () => { for (const n of names) r.result.createObjectStore(n); };
      r.onsuccess = () => {
        r.result.onversionchange = () => { r.result.close(); opened = undefined; };
        resolve(r.result);
      };
      r.onerror = () => { opened = undefined; reject(r.error); };
      r.onblocked = () => reject(new Error('Another page holds the database of the rounds; close it.'));
    });
    return opened;
  }

  // change carries out work({store}) in one transaction: all of it is kept, or nothing.
  async function change(stores, work) {
    const db = await open();
    return new Promise((resolve, reject) => {
      let t;
      try { t = db.transaction(stores, 'readwrite', { durability: 'strict' }); } catch (e) { opened = undefined; reject(e); return; }
      t.oncomplete = () => resolve();
      t.onabort = () => reject(t.error ?? new Error('The phone did not keep it.'));
      try {
        work(Object.fromEntries(stores.map((n) => [n, t.objectStore(n)])));
      } catch (e) {
        try { t.abort(); } catch { /* it has ended already */ }
        reject(e);
      }
    });
  }

  async function ask(name, request) {
    const db = await open();
    return new Promise((resolve, reject) => {
      let r;
      try { r = request(db.transaction(name).objectStore(name)); } catch (e) { opened = undefined; reject(e); return; }
      r.onsuccess = () => resolve(r.result);
      r.onerror = () => reject(r.error);
    });
  }

  return {
    change,
    get: (name, key) => ask(name, (s) => s.get(key)),
    all: (name) => ask(name, (s) => s.getAll()),
    keys: (name) => ask(name, (s) => s.getAllKeys()),
    put: (name, key, value) => change([name], (s) => { s[name].put(value, key); }),
    remove: (name, key) => change([name], (s) => { s[name].delete(key); }),
  };
})();
