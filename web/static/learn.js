// Starts and stops the learning of a bench, and shows how it goes. Without this
// script the buttons are plain forms.
'use strict';
(() => {
  const section = document.querySelector('section[data-learn]');
  if (!section) return;
  const part = section.querySelector('#learn-part');
  const address = '/bench/' + encodeURIComponent(section.dataset.learn) + '/learn';
  const state = () => part.querySelector('[data-state]')?.dataset.state;

  function show(html) {
    const focused = part.contains(document.activeElement);
    part.innerHTML = html;
    if (focused) part.querySelector('.do')?.focus();
  }

  let timer = 0;
  function again() {
    clearTimeout(timer);
    if (state() === 'running') timer = setTimeout(look, 700);
  }

  async function look() {
    try {
      const answer = await fetch(address);
      if (answer.ok) {
        const text = await answer.text();
        const fresh = document.createElement('div');
        fresh.innerHTML = text;
        const now = fresh.querySelector('[data-state="running"]');
        if (now && state() === 'running') {
          // Only the numbers move, so that the button keeps its focus.
          part.querySelector('[data-state] p').replaceWith(now.querySelector('p'));
        } else show(text);
      }
    } catch { /* the server is away for a moment */ }
    again();
  }

  part.addEventListener('submit', async (e) => {
    e.preventDefault();
    const body = new URLSearchParams({ do: e.submitter.value, script: '1' });
    e.submitter.disabled = true;
    try {
      const answer = await fetch(address, { method: 'POST', body });
      if (answer.ok) show(await answer.text());
    } catch {
      e.submitter.disabled = false;
    }
    again();
  });
  again();
})();
