// Keeps the live page up to date, and draws what the sensors read: drag to look closer,
// double click to go back, arrow keys and buttons to move.
'use strict';
(() => {
  const main = document.querySelector('main[data-live]');
  if (!main) return;
  const base = '/bench/' + encodeURIComponent(main.dataset.live) + '/live';
  const zone = main.dataset.zone || undefined;
  const now = document.getElementById('now');

  // What follows the readings is asked for again while somebody looks, but not while they
  // type.
  const every = 10000;
  let asking = false;
  async function refresh() {
    if (asking || document.hidden || now.querySelector('input:focus')) return;
    asking = true;
    try {
      const typed = [...now.querySelectorAll('input[name=by]')].map((i) => i.value);
      const answer = await fetch(base + '/now');
      if (!answer.ok) throw new Error();
      const html = await answer.text();
      if (!now.querySelector('input:focus')) {
        const open = [...now.querySelectorAll('details')].map((d) => d.open);
        now.innerHTML = html;
        now.querySelectorAll('details').forEach((d, i) => { d.open = open[i] ?? false; });
        now.querySelectorAll('input[name=by]').forEach((input, i) => { if (typed[i]) input.value = typed[i]; });
      }
      now.classList.remove('stale');
    } catch {
      now.classList.add('stale');
    }
    asking = false;
  }
  setInterval(refresh, every);
  document.addEventListener('visibilitychange', refresh);

  // Charts: one a sensor, all over the same stretch of time.
  const part = document.getElementById('chart-part');
  const sensors = [...now.querySelectorAll('tr[data-chart]')].map((r) => ({ key: r.dataset.sensor, reads: r.dataset.reads, unit: r.dataset.unit }));
  if (sensors.length === 0 || typeof uPlot === 'undefined') {
    part.append(Object.assign(document.createElement('p'), { textContent: 'There is nothing to draw yet.' }));
    return;
  }
  const day = 86400;
  const longest = 60 * 366 * day;
  let view = { from: Date.now() / 1000 - day, to: Date.now() / 1000 };
  const past = [];

  const bar = Object.assign(document.createElement('div'), { className: 'chart-bar' });
  bar.setAttribute('role', 'group');
  bar.setAttribute('aria-label', 'Stretch of time');
  const state = Object.assign(document.createElement('span'), { className: 'state' });
  state.setAttribute('role', 'status');
  const button = (text, label, act) => {
    const b = Object.assign(document.createElement('button'), { type: 'button', className: 'take', textContent: text });
    b.setAttribute('aria-label', label);
    b.addEventListener('click', act);
    bar.append(b);
  };
  const last = (span) => () => { const t = Date.now() / 1000; go(t - span, t); };
  button('Day', 'The last day', last(day));
  button('Week', 'The last week', last(7 * day));
  button('Month', 'The last month', last(31 * day));
  button('Year', 'The last year', last(366 * day));
  button('←', 'Earlier', () => move(-0.5));
  button('→', 'Later', () => move(0.5));
  button('+', 'Closer', () => zoom(0.5));
  button('−', 'Farther', () => zoom(2));
  button('Back', 'Back to the stretch before', back);
  bar.append(state);
  part.append(bar);

  const css = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  const tzDate = zone ? (ts) => uPlot.tzDate(new Date(ts * 1000), zone) : (ts) => new Date(ts * 1000);
  const moment = new Intl.DateTimeFormat(undefined, { timeZone: zone, day: 'numeric', month: 'short', year: 'numeric', hour: '2-digit', minute: '2-digit', hourCycle: 'h23' });
  const cursor = uPlot.sync('sensors');

  function clamp(from, to) {
    let span = Math.min(Math.max(to - from, 60), longest);
    const mid = (from + to) / 2;
    from = mid - span / 2;
    return { from, to: from + span };
  }
  function go(from, to, forget) {
    if (!forget) past.push(view);
    view = clamp(from, to);
    load();
  }
  function back() {
    const p = past.pop();
    if (p) go(p.from, p.to, true);
  }
  function move(share) { const d = (view.to - view.from) * share; go(view.from + d, view.to + d); }
  function zoom(factor) { const mid = (view.from + view.to) / 2, half = (view.to - view.from) / 2 * factor; go(mid - half, mid + half); }

  for (const s of sensors) {
    s.box = document.createElement('figure');
    s.box.className = 'chart';
    s.box.tabIndex = 0;
    s.box.setAttribute('aria-label', s.key + ', ' + s.reads + ': arrow keys move, plus and minus look closer and farther');
    const caption = document.createElement('figcaption');
    caption.textContent = s.key + ': ' + s.reads + ', ' + s.unit;
    s.plotBox = document.createElement('div');
    s.table = document.createElement('details');
    s.table.append(Object.assign(document.createElement('summary'), { textContent: 'As a table' }));
    s.table.addEventListener('toggle', () => { if (s.table.open) tabulate(s); });
    s.box.append(caption, s.plotBox, s.table);
    s.box.addEventListener('keydown', (e) => {
      if (e.target !== s.box || e.ctrlKey || e.metaKey || e.altKey) return;
      const act = { ArrowLeft: () => move(-0.25), ArrowRight: () => move(0.25), '+': () => zoom(0.5), '-': () => zoom(2), Backspace: back }[e.key];
      if (act) { e.preventDefault(); act(); }
    });
    part.append(s.box);
  }

  function plot(s) {
    const soft = css('--soft'), rule = css('--rule'), accent = css('--accent');
    s.plot?.destroy();
    const axis = { stroke: soft, grid: { stroke: rule, width: 1 }, ticks: { stroke: rule, width: 1 }, font: '13px system-ui, sans-serif' };
    s.plot = new uPlot({
      width: s.plotBox.clientWidth || 600, height: 190, tzDate,
      cursor: { sync: { key: cursor.key }, drag: { x: true, y: false, setScale: false } },
      select: { show: true },
      legend: { show: true, live: true },
      scales: { x: { time: true, range: () => [view.from, view.to] } },
      axes: [{ ...axis, values: [
        [3600 * 24 * 365, '{YYYY}', null, null, null, null, null, null, 1],
        [3600 * 24 * 28, '{MMM}', '\n{YYYY}', null, null, null, null, null, 1],
        [3600 * 24, '{D} {MMM}', '\n{YYYY}', null, null, null, null, null, 1],
        [60, '{HH}:{mm}', '\n{D} {MMM} {YYYY}', null, '\n{D} {MMM}', null, null, null, 1],
        [1, '{HH}:{mm}:{ss}', '\n{D} {MMM} {YYYY}', null, '\n{D} {MMM}', null, null, null, 1],
      ] }, { ...axis, size: 58, values: (_, at) => at.map((v) => v == null ? '' : inMarks(Number(v.toPrecision(6)))) }],
      series: [
        { label: 'around', value: (_, v) => v == null ? '–' : moment.format(v * 1000) },
        { label: 'mean', stroke: accent, width: 2, points: { size: 4 }, value: (_, v) => number(v) },
        { label: 'least', stroke: 'transparent', points: { show: false }, value: (_, v) => number(v) },
        { label: 'most', stroke: 'transparent', points: { show: false }, value: (_, v) => number(v) },
      ],
      bands: [{ series: [3, 2], fill: mix(accent) }],
      hooks: {
        setSelect: [(u) => {
          if (u.select.width < 8) return;
          const from = u.posToVal(u.select.left, 'x'), to = u.posToVal(u.select.left + u.select.width, 'x');
          u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
          go(from, to);
        }],
      },
    }, s.data, s.plotBox);
    s.plot.over.addEventListener('dblclick', (e) => { e.stopImmediatePropagation(); back(); }, true);
    s.plot.over.addEventListener('wheel', (e) => {
      if (!e.ctrlKey) return; // the page scrolls
      e.preventDefault();
      const at = s.plot.posToVal(e.offsetX, 'x'), f = e.deltaY > 0 ? 1.25 : 0.8;
      go(at - (at - view.from) * f, at + (view.to - at) * f);
    }, { passive: false });
  }
  const mix = (c) => 'color-mix(in srgb, ' + c + ' 22%, transparent)';
  const number = (v) => v == null ? '–' : inMarks(Number(v.toPrecision(4)));

  let running;
  async function load() {
    running?.abort();
    const me = (running = new AbortController());
    state.textContent = moment.format(view.from * 1000) + ' to ' + moment.format(view.to * 1000);
    const began = performance.now();
    await Promise.all(sensors.map(async (s) => {
      try {
        const pieces = Math.max(100, Math.min(1000, Math.round(s.plotBox.clientWidth || 600)));
        const q = new URLSearchParams({ sensor: s.key, from: Math.floor(view.from), to: Math.ceil(view.to), pieces });
        const answer = await fetch(base + '/chart?' + q, { signal: me.signal });
        if (!answer.ok) throw new Error(await answer.text());
        const c = await answer.json();
        s.width = c.width_s;
        s.readings = c.readings;
        s.data = [c.at_s.map((t) => t + c.width_s / 2), c.mean, c.min, c.max];
        if (s.plot) s.plot.setData(s.data);
        else plot(s);
        if (s.table.open) tabulate(s);
      } catch (e) {
        if (e.name === 'AbortError') return;
        state.textContent = 'The readings cannot be had now: ' + (e.message.length < 200 ? e.message : 'the server does not answer.');
      }
    }));
    if (!me.signal.aborted) part.dataset.took = Math.round(performance.now() - began);
  }

  const mostRows = 200;
  function tabulate(s) {
    s.table.querySelector('.d-scroll')?.remove();
    const box = Object.assign(document.createElement('div'), { className: 'd-scroll', tabIndex: 0 });
    box.setAttribute('role', 'region');
    box.setAttribute('aria-label', 'Table of ' + s.key);
    const table = Object.assign(document.createElement('table'), { className: 'd-table' });
    table.createCaption().textContent = s.readings + ' readings, in pieces of ' + inMarks(s.width >= 3600 ? s.width / 3600 + ' h' : s.width >= 60 ? s.width / 60 + ' min' : s.width + ' s') + (s.data[0].length > mostRows ? '; the newest ' + mostRows + ' pieces, look closer for others' : '');
    const head = table.createTHead().insertRow();
    for (const h of ['around', 'mean', 'least', 'most']) head.append(Object.assign(document.createElement('th'), { scope: 'col', textContent: h }));
    const body = table.createTBody();
    for (let i = Math.max(0, s.data[0].length - mostRows); i < s.data[0].length; i++) {
      if (s.data[1][i] == null) continue;
      const row = body.insertRow();
      row.append(Object.assign(document.createElement('th'), { scope: 'row', textContent: moment.format(s.data[0][i] * 1000) }));
      for (const k of [1, 2, 3]) { const c = row.insertCell(); c.className = 'd-num'; c.textContent = number(s.data[k][i]); }
    }
    box.append(table);
    s.table.append(box);
  }

  addEventListener('resize', () => { for (const s of sensors) s.plot?.setSize({ width: s.plotBox.clientWidth, height: 190 }); });
  const look = () => { for (const s of sensors) if (s.plot) plot(s); };
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', look);
  new MutationObserver(look).observe(document.documentElement, { attributes: true, attributeFilter: ['data-theme'] });
  load();
})();
