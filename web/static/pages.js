// Redraws the sections of a bench while its controls are turned. Without this
// script the controls are a plain form.
'use strict';
(() => {
  const main = document.querySelector('main[data-bench]');
  if (!main) return;
  document.documentElement.classList.add('script');
  const base = '/bench/' + encodeURIComponent(main.dataset.bench);
  const form = main.querySelector('form.controls');
  const state = form.querySelector('.state');
  const inputs = [...form.querySelectorAll('.exact')];
  const sliders = new Map([...form.querySelectorAll('.slide')].map((s) => [s.dataset.for, s]));

  const kept = [...form.querySelectorAll('input[type=hidden]')];
  const query = () => new URLSearchParams(inputs.concat(kept).map((i) => [i.name, i.value])).toString();
  const isSet = (i) => Number(i.value) === Number(i.dataset.start);
  const asSet = () => inputs.every(isSet);

  // One request for a section at a time; a newer one takes the place of an older.
  const running = {};
  async function show(part, pause) {
    running[part]?.abort();
    const me = (running[part] = new AbortController());
    const box = document.getElementById(part + '-part');
    try {
      if (pause) await new Promise((r) => setTimeout(r, pause));
      if (me.signal.aborted) return;
      box.classList.add('busy');
      const answer = await fetch(base + '/' + part + '?' + query(), { signal: me.signal });
      const text = await answer.text();
      if (answer.ok) replace(box, text);
      else state.textContent = text.length < 300 ? text : 'This setting could not be computed.';
      box.classList.remove('busy');
    } catch (e) {
      if (e.name !== 'AbortError') {
        box.classList.remove('busy');
        state.textContent = 'The server does not answer. Is underlamp still running?';
      }
    }
  }

  // Tables that a person has opened stay open when the section is drawn anew.
  function replace(box, html) {
    const open = [...box.querySelectorAll('details')].map((d) => d.open);
    box.innerHTML = html;
    box.querySelectorAll('details').forEach((d, i) => { d.open = open[i] ?? false; });
  }

  function turned() {
    state.textContent = asSet() ? 'As it is set now' : 'What if';
    for (const i of inputs) i.labels[0].querySelector('.default')?.toggleAttribute('hidden', !isSet(i));
    history.replaceState(null, '', base + '?' + query() + location.hash);
    show('light', 0);
    show('outlook', 150);
  }

  for (const input of inputs) {
    const slider = sliders.get(input.id);
    slider.addEventListener('input', () => { input.value = slider.value; turned(); });
    input.addEventListener('input', () => {
      if (input.value === '' || !input.checkValidity()) return;
      slider.value = input.value;
      turned();
    });
  }
  form.addEventListener('submit', (e) => { e.preventDefault(); turned(); });

  // The search for the best setting takes a second or two: it starts by itself
  // once the rest is there.
  const best = document.getElementById('best-part');
  function takeButtons() {
    for (const row of best.querySelectorAll('tr[data-height]')) {
      const cell = row.insertCell(1); // beside the name: on a phone the end of the row is out of sight
      const b = document.createElement('button');
      b.type = 'button';
      b.className = 'take';
      b.textContent = 'Take';
      b.setAttribute('aria-label', 'Take the setting ' + row.cells[0].textContent);
      b.addEventListener('click', () => {
        for (const i of inputs) {
          i.value = Math.round(Number(row.dataset[i.name]) * Number(i.dataset.scale) * 100) / 100;
          sliders.get(i.id).value = i.value;
        }
        turned();
        form.scrollIntoView({ block: 'start' });
      });
      cell.append(b);
    }
    const head = best.querySelector('.settings thead tr');
    if (head) head.cells[0].after(Object.assign(document.createElement('th'), { scope: 'col', textContent: 'try it' }));
  }
  (async () => {
    if (best.querySelector('.ask-best')) {
      best.querySelector('p').textContent = 'Searching lamp heights, dimming and hours …';
      // A coarse map at once, under the sentence; the whole answer takes its place.
      const draft = await fetch(base + '/map?' + query()).catch(() => null);
      if (draft?.ok) best.insertAdjacentHTML('beforeend', await draft.text());
      await show('best', 0);
    }
    takeButtons();
    const doubt = document.getElementById('doubt-part');
    if (doubt.querySelector('.ask-doubt')) {
      doubt.querySelector('p').textContent = 'Sharing out the doubt …';
      await show('doubt', 0);
    }
  })();
})();

// Runs a long search beside the page, with progress and a button that stops it.
(async () => {
  const part = document.getElementById('plan-part');
  if (!part) return;
  const stop = new AbortController();
  const say = document.createElement('p');
  say.setAttribute('role', 'status');
  say.textContent = 'Searching …';
  const bar = document.createElement('progress');
  bar.setAttribute('aria-label', 'Progress of the search');
  const button = Object.assign(document.createElement('button'), { type: 'button', className: 'take', textContent: 'Stop' });
  button.addEventListener('click', () => stop.abort());
  part.replaceChildren(say, bar, document.createTextNode(' '), button);
  try {
    const answer = await fetch(part.dataset.run, { signal: stop.signal });
    const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
    let rest = '';
    for (;;) {
      const { value, done } = await reader.read();
      if (done) break;
      const lines = (rest + value).split('\n');
      rest = lines.pop();
      for (const line of lines) {
        const m = JSON.parse(line);
        if (m.html) { part.innerHTML = m.html; return; }
        if (m.wrong) { part.innerHTML = ''; part.append('This cannot be asked: ' + m.wrong + '.'); return; }
        say.textContent = 'Searching ' + m.what + ' …';
        bar.max = m.of;
        bar.value = m.done;
      }
    }
    part.textContent = 'The search ended without an answer.';
  } catch (e) {
    part.textContent = e.name === 'AbortError' ? 'Stopped. Search again with the button above.' : 'The server does not answer. Is underlamp still running?';
  }
})();
