// Keeps what is typed on the pages of trials until it is kept, looks at a value while it is
// typed, and sends once. Without this script the pages are plain forms.
'use strict';
(() => {
  document.documentElement.classList.add('script');
  let main;

  // A store of the browser that may be full or forbidden.
  const memory = {
    get(k) { try { return JSON.parse(localStorage.getItem(k)) ?? null; } catch { return null; } },
    set(k, v) { try { localStorage.setItem(k, JSON.stringify(v)); } catch { /* the page works without */ } },
    drop(k) { try { localStorage.removeItem(k); } catch { /* as above */ } },
  };

  addEventListener('pageshow', (e) => {
    if (!e.persisted) return;
    for (const form of document.querySelectorAll('form.once')) {
      delete form.dataset.sent;
      form.querySelectorAll('button').forEach((b) => { b.disabled = false; });
    }
  });

  function start() {
    main = document.querySelector('main');
    // Forms that are sent as they are go once: a second tap finds the button off.
    for (const form of document.querySelectorAll('form.once')) {
      form.addEventListener('submit', (e) => {
        if (form.dataset.sent) { e.preventDefault(); return; }
        form.dataset.sent = '1';
        setTimeout(() => form.querySelectorAll('button').forEach((b) => { b.disabled = true; }), 0); // after its name is taken along
      });
    }
    if ('plan' in main.dataset) plan(main.querySelector('form.ask'));
    if (main.dataset.record) record();
  }
  start();

  // The address holds the question as it is typed, so that a reload keeps it.
  function plan(form) {
    const query = () => new URLSearchParams([...new FormData(form)].filter(([k]) => k !== 'show'));
    const first = query().toString();
    // What a choice makes needless is out of the way, and stays as it was typed.
    const show = (name, is) => form.elements[name].closest('.field').toggleAttribute('hidden', !is);
    const tidy = () => {
      const bench = form.elements.bench.value !== '';
      show('lamps', !bench);
      show('plants', !bench);
      show('hours', form.elements.factor.value === 'light');
      show('expect', form.elements.from.value === '' || !['mass', 'height'].includes(form.elements.response.value));
      show('days', form.elements.response.value === 'onset');
      show('rounds', form.elements.response.value === 'onset');
    };
    tidy();
    let pause;
    form.addEventListener('input', () => {
      tidy();
      clearTimeout(pause);
      pause = setTimeout(() => {
        const now = query();
        const same = now.toString() === first;
        if (same && document.getElementById('layouts')) now.set('show', '1');
        history.replaceState(null, '', location.pathname + '?' + now);
        form.querySelector('.state').textContent = !same && document.getElementById('layouts') ? 'The question has changed; the layouts below answer the one before.' : '';
        document.querySelectorAll('.proposal').forEach((p) => p.classList.toggle('stale', !same));
      }, 150);
    });
    const flush = () => { if (query().toString() !== first) history.replaceState(null, '', location.pathname + '?' + query()); };
    addEventListener('pagehide', flush);
    form.addEventListener('submit', () => {
      removeEventListener('pagehide', flush);
      form.querySelector('.state').textContent = 'Drawing layouts. Of burn and grades this takes some seconds.';
    });
    document.querySelector('[aria-invalid]')?.focus();
  }

  function record() {
    const form = main.querySelector('form.take-in');
    if (!form) return;
    const trial = main.dataset.record;
    const mine = 'underlamp trial ' + [trial, main.dataset.unit, main.dataset.plant, main.dataset.correct].join('|');
    const self = 'underlamp trial self';
    const state = form.querySelector('.keepbar .state');
    const fields = [...form.elements].filter((e) => e.name && e.type !== 'hidden' && e.type !== 'submit');
    const along = ['by', 'with', 'mass-measure', 'height-measure'];
    const value = (e) => (e.type === 'radio' ? e.checked && e.value : e.value);

    // Who, instrument and units of measurement go from plant to plant.
    const me = memory.get(self) ?? {};
    const asked = new URLSearchParams(location.search);
    const answered = main.querySelector('[aria-invalid], [role=alert]') !== null;
    for (const e of fields) if (along.includes(e.name) && !asked.has(e.name) && !answered && me[e.name] !== undefined && (e.tagName !== 'SELECT' || [...e.options].some((o) => o.value === me[e.name]))) e.value = me[e.name];

    // What was typed of this plant and not kept, with the key under which it may have been sent.
    const typed = memory.get(mine);
    if (typed && !answered) {
      for (const e of fields) {
        if (!(e.name in typed.said) || along.includes(e.name) || e.name === 'date') continue;
        if (e.type === 'radio') e.checked = typed.said[e.name] === e.value;
        else e.value = typed.said[e.name];
        if (e.value && e.closest('details') && typed.said[e.name]) e.closest('details').open = true;
      }
      form.elements.key.value = typed.key;
      state.textContent = 'What you typed and did not keep is here again.';
    }
    const who = form.querySelector('.who');
    const compact = () => {
      const by = form.elements.by.value, instrument = form.elements.with.value;
      who.querySelector('summary').textContent = by ? [form.elements.date.value, form.elements.clock.value, by, instrument].filter(Boolean).join(', ') : 'When, who, with what';
    };
    compact();
    if (form.elements.by.value && !who.querySelector('[aria-invalid]')) who.open = false;

    function remember() {
      const said = {};
      for (const e of fields) { const v = value(e); if (v !== false) said[e.name] = v; }
      memory.set(mine, { key: form.elements.key.value, said });
      memory.set(self, Object.fromEntries(along.filter((n) => form.elements[n]).map((n) => [n, form.elements[n].value])));
    }
    let look;
    form.addEventListener('input', (e) => {
      remember();
      compact();
      state.textContent = '';
      const box = e.target.closest('.seen');
      if (!box) return;
      clearTimeout(look);
      look = setTimeout(() => doubt(box), 250);
    });

    // What a value means, and whether it can hardly be meant; it is never held back for that.
    let asking;
    async function doubt(box) {
      asking?.abort();
      asking = new AbortController();
      const out = box.querySelector('.look');
      const q = new URLSearchParams(new FormData(form));
      q.set('what', box.dataset.what);
      try {
        const answer = await fetch('/trial/' + encodeURIComponent(trial) + '/record/look?' + q, { signal: asking.signal });
        if (!answer.ok) return;
        const a = await answer.json();
        out.replaceChildren();
        const say = (text, cls) => out.append(Object.assign(document.createElement('p'), { className: cls, textContent: text }));
        if (a.wrong) say(a.wrong, 'wrong');
        if (a.means) say(a.means, 'hint');
        for (const d of a.doubts) say('Please look: ' + d, 'note');
      } catch { /* the page can be kept all the same */ }
    }
    for (const box of form.querySelectorAll('.seen')) if (fields.some((e) => box.contains(e) && e.type !== 'radio' && e.tagName === 'INPUT' && e.value)) doubt(box);

    let sending = false;
    form.addEventListener('submit', async (e) => {
      e.preventDefault();
      if (sending) return;
      sending = true;
      remember();
      const button = form.querySelector('.keep');
      button.disabled = true;
      state.textContent = '';
      try {
        const answer = await fetch(form.action, { method: 'POST', body: new URLSearchParams(new FormData(form)), headers: { Accept: 'application/json' } });
        if (answer.ok) {
          const { go } = await answer.json();
          memory.drop(mine);
          location.assign(go);
          return;
        }
        const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
        const fresh = page.querySelector('main[data-record]');
        if (!fresh) throw new Error(page.querySelector('h1')?.textContent ?? 'the server refuses it');
        // The faults stand beside their fields in the page that came back.
        memory.drop(mine);
        main.replaceWith(fresh);
        const first = fresh.querySelector('[aria-invalid], [role=alert]');
        first?.closest('details')?.setAttribute('open', '');
        start();
        first?.scrollIntoView({ block: 'center' });
        if (first?.matches('input')) first.focus();
      } catch (err) {
        state.textContent = 'Not kept: ' + (err instanceof TypeError ? 'the server does not answer' : err.message) + '. What you typed stays on this device; press the button again.';
        button.disabled = false;
        sending = false;
      }
    });
    const ready = form.querySelector('[aria-invalid]') ?? form.querySelector('.seen input[type=text]');
    if (matchMedia('(pointer: fine)').matches || answered) ready?.focus({ preventScroll: !answered });
  }
})();
