// Redraws the sections of a bench while its controls are turned. Without this
// script the controls are a plain form.
'use strict';

// inMarks puts numbers as scripts write them into the marks that are set; whatever the server
// writes is in them already. numberOf reads a number in either decimal mark.
const inMarks = (text) => document.documentElement.dataset.decimal === ',' ? String(text).replace(/(\d)\.(?=\d)/g, '$1,') : String(text);
const numberOf = (text) => text.trim() === '' ? NaN : Number(text.trim().replace(',', '.'));

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
  const isSet = (i) => numberOf(i.value) === Number(i.dataset.start);
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
    slider.addEventListener('input', () => { input.value = inMarks(slider.value); turned(); });
    input.addEventListener('input', () => {
      const v = numberOf(input.value); // with a unit behind it the server reads it alone
      if (input.value.trim() === '' || v < Number(slider.min) || v > Number(slider.max)) return;
      if (!Number.isNaN(v)) slider.value = v;
      turned();
    });
  }
  form.addEventListener('submit', (e) => { e.preventDefault(); turned(); });

  // The search for the best setting takes a second or two: it starts by itself
  // once the rest is there.
  const best = document.getElementById('best-part');
  function takeButtons() {
    if (best.querySelector('.take')) return;
    for (const row of best.querySelectorAll('tr[data-height]')) {
      const cell = row.insertCell(1); // beside the name: on a phone the end of the row is out of sight
      const b = document.createElement('button');
      b.type = 'button';
      b.className = 'take';
      b.textContent = 'Take';
      b.setAttribute('aria-label', 'Take the setting ' + row.cells[0].textContent);
      b.addEventListener('click', () => {
        for (const i of inputs) {
          const v = Math.round(Number(row.dataset[i.name]) * Number(i.dataset.scale) * 100) / 100;
          i.value = inMarks(v);
          sliders.get(i.id).value = v;
        }
        turned();
        form.scrollIntoView({ block: 'start' });
      });
      cell.append(b);
    }
    const head = best.querySelector('.settings thead tr');
    if (head) head.cells[0].after(Object.assign(document.createElement('th'), { scope: 'col', textContent: 'try it' }));
  }
  // It goes on in the background and draws itself anew with each first result.
  best.addEventListener('worked', takeButtons);
  (async () => {
    if (best.querySelector('.ask-best')) {
      await show('best', 0);
      dispatchEvent(new Event('work'));
    }
    takeButtons();
    const doubt = document.getElementById('doubt-part');
    if (doubt.querySelector('.ask-doubt')) {
      doubt.querySelector('p').textContent = 'Sharing out the doubt …';
      await show('doubt', 0);
    }
  })();
})();
