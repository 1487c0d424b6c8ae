// Shows how work in the background goes on, by one stream for each work on the page. Without
// this script the page loads itself again until the work has ended.
'use strict';
(() => {
  const streams = new Map(); // the work's id → its stream
  const told = Object.assign(document.createElement('p'), { className: 'skip' });
  told.setAttribute('role', 'status');

  const runs = (el) => el.dataset.state === 'running' || el.dataset.state === 'waiting';
  const now = (id) => document.querySelector('[data-work="' + id + '"]');

  function far(el, doing, percent, text) {
    el.querySelector('.far label').textContent = doing;
    if (percent !== null) el.querySelector('progress').value = percent;
    el.querySelector('.figure').textContent = text;
  }

  // What a person has opened stays open, and the focus where it was.
  function show(el, fresh) {
    const focused = el.contains(document.activeElement);
    const open = [...el.querySelectorAll('details')].map((d) => d.open);
    fresh.querySelectorAll('details').forEach((d, i) => { d.open = open[i] ?? false; });
    el.replaceWith(fresh);
    if (focused) fresh.querySelector('.do, a')?.focus();
    fresh.dispatchEvent(new Event('worked', { bubbles: true }));
  }

  function listen(el) {
    const id = el.dataset.work;
    if (streams.has(id) || !runs(el) || document.hidden) return;
    const line = 'line' in el.dataset; // of the list: it is loaded anew when something has ended
    const s = new EventSource('/work/' + id + '/events' + ('alone' in el.dataset ? '?alone=1' : ''));
    streams.set(id, s);
    s.addEventListener('far', (e) => {
      const m = JSON.parse(e.data), el = now(id);
      if (el) far(el, m.doing, m.far ? m.percent : null, m.far);
    });
    s.addEventListener('show', (e) => {
      const fresh = new DOMParser().parseFromString(e.data, 'text/html').querySelector('[data-work]'), el = now(id);
      const ended = !runs(fresh);
      if (ended) {
        s.close();
        streams.delete(id);
        document.body.append(told);
        told.textContent = fresh.dataset.title + ': ' + fresh.dataset.state;
        if (!line) count(-1);
      }
      if (!el) return;
      if (!line) show(el, document.adoptNode(fresh));
      else if (ended) location.reload();
      else far(el, fresh.querySelector('.far label').textContent, fresh.querySelector('progress').getAttribute('value'), fresh.querySelector('.figure').textContent);
    });
    s.addEventListener('error', () => {
      if (s.readyState !== EventSource.CLOSED) return; // it tries again by itself
      streams.delete(id);
      const figure = now(id)?.querySelector('.figure');
      if (figure) figure.textContent = 'The server does not know this work any more. Load the page again.';
    });
  }

  // The number in the header, where there is one.
  function count(by) {
    const a = document.querySelector('.places .works-run');
    if (!a) return;
    const n = Math.max(Number(a.dataset.running) + by, 0);
    a.dataset.running = n;
    a.querySelector('.number').textContent = n;
    a.hidden = n === 0;
  }

  const look = () => document.querySelectorAll('[data-work]').forEach(listen);
  addEventListener('work', look); // some has come onto the page
  document.addEventListener('visibilitychange', () => {
    if (!document.hidden) { look(); return; }
    for (const s of streams.values()) s.close(); // a browser has few connections to a server
    streams.clear();
  });
  look();

  document.addEventListener('submit', async (e) => {
    const el = e.target.closest('[data-work]');
    if (!el || e.submitter?.value !== 'stop' || !streams.has(el.dataset.work)) return;
    e.preventDefault();
    e.submitter.disabled = true;
    try {
      await fetch('/work/' + el.dataset.work, { method: 'POST', body: new URLSearchParams({ do: 'stop' }), redirect: 'manual' });
    } catch {
      e.submitter.disabled = false;
    }
  });
})();
