// Redraws the air of a bench while its controls are turned. Without this script they are a
// plain form.
'use strict';
(() => {
  const main = document.querySelector('main[data-air]');
  if (!main) return;
  document.documentElement.classList.add('script');
  const base = '/bench/' + encodeURIComponent(main.dataset.air) + '/air';
  const form = main.querySelector('form.controls');
  const state = form.querySelector('.state');
  const inputs = [...form.querySelectorAll('.exact')];
  const fan = form.querySelector('#c-fan');
  const fanAtFirst = fan.value;
  const sliders = new Map([...form.querySelectorAll('.slide')].map((s) => [s.dataset.for, s]));
  const turnedInputs = () => inputs.filter((i) => i.value !== '' && (i.dataset.start === undefined || Number(i.value) !== Number(i.dataset.start)));
  // Only what was turned stands in the address, so that it stays short.
  const query = () => {
    const q = new URLSearchParams(turnedInputs().map((i) => [i.name, i.value]));
    if (fan.value !== fan.dataset.start) q.set('fan', fan.value);
    return q.toString();
  };
  fan.dataset.start = main.querySelector('.state').textContent === 'What if' ? '' : fanAtFirst;

  const running = {};
  async function show(part, path, pause) {
    running[part]?.abort();
    const me = (running[part] = new AbortController());
    const box = document.getElementById(part);
    if (!box) return;
    try {
      if (pause) await new Promise((r) => setTimeout(r, pause));
      if (me.signal.aborted) return;
      box.classList.add('busy');
      const answer = await fetch(base + '/' + path + '?' + query(), { signal: me.signal });
      const text = await answer.text();
      if (answer.ok) {
        const open = [...box.querySelectorAll('details')].map((d) => d.open);
        box.innerHTML = text;
        box.querySelectorAll('details').forEach((d, i) => { d.open = open[i] ?? false; });
      } else state.textContent = text.length < 300 ? text : 'This could not be computed.';
      box.classList.remove('busy');
    } catch (e) {
      if (e.name !== 'AbortError') {
        box.classList.remove('busy');
        state.textContent = 'The server does not answer. Is underlamp still running?';
      }
    }
  }

  function turned() {
    const q = query();
    const what = turnedInputs().some((i) => i.name !== 'day') || fan.value !== fan.dataset.start;
    state.textContent = what ? 'What if' : 'As it is set now';
    history.replaceState(null, '', base + (q ? '?' + q : '') + location.hash);
    show('air-part', 'part', 0);
    show('hearts-part', 'hearts', 900);
  }

  for (const input of inputs) {
    const slider = sliders.get(input.id);
    slider?.addEventListener('input', () => { input.value = slider.value; turned(); });
    input.addEventListener('input', () => {
      if (input.value !== '' && !input.checkValidity()) return;
      if (input.value === '' && input.name !== 'day') return;
      if (slider) slider.value = input.value;
      turned();
    });
  }
  fan.addEventListener('change', turned);
  form.addEventListener('submit', (e) => { e.preventDefault(); turned(); });

  const hearts = document.getElementById('hearts-part');
  if (hearts?.querySelector('.ask-hearts')) {
    hearts.querySelector('p').textContent = 'Asking the outlook over air speeds and nights …';
    show('hearts-part', 'hearts', 0);
  }
})();
