// Arranges a bench: drags and types changes, asks the server what the file and the light
// become, and keeps all of it in the browser until it is saved. The server holds nothing of
// an edit; the text of the file is all that there is, so undoing is going back to a text.
'use strict';
(() => {
  const main = document.querySelector('main[data-edit]');
  if (!main) return;
  document.documentElement.classList.add('script');
  const id = main.dataset.edit;
  const base = '/bench/' + encodeURIComponent(id) + '/edit';
  const $ = (name) => document.getElementById(name);
  const form = $('edit-form'), fields = $('fields'), area = $('text'), state = $('state');
  const colours = main.dataset.colours.split(' ');
  const slot = 'underlamp/edit/' + id;
  const MOST = 60;

  // What is edited: texts in the order of editing, and where we are among them.
  let baseText = $('base').value;
  let texts = [area.value], at = 0, group = null;
  let scene = null, light = null, answer = null;
  const text = () => texts[at];

  // Keeping
  function keep() {
    try {
      if (at === 0 && texts.length === 1 && text() === baseText) localStorage.removeItem(slot);
      else localStorage.setItem(slot, JSON.stringify({ baseText, texts, at, since: $('since')?.value ?? '', why: $('why').value }));
    } catch { /* a full or forbidden store: editing goes on without it */ }
  }
  function restore() {
    let was;
    try { was = JSON.parse(localStorage.getItem(slot)); } catch { return; }
    if (!was || !Array.isArray(was.texts) || !was.texts.every((t) => typeof t === 'string') || !(was.at in was.texts)) return;
    if (was.texts[was.at] === baseText || main.dataset.from) return;
    texts = was.texts; at = was.at;
    if ($('since') && was.since) $('since').value = was.since;
    if (was.why) $('why').value = was.why;
    const box = $('restored');
    box.hidden = false;
    box.replaceChildren('What you had not saved is here again. ', button('Throw it away', discard));
    if (was.baseText !== baseText) {
      const now = baseText;
      baseText = was.baseText;
      conflict(now, 'Somebody has changed this bench since you began.');
    }
  }
  const button = (label, act) => {
    const b = Object.assign(document.createElement('button'), { type: 'button', className: 'take plain', textContent: label });
    b.addEventListener('click', act);
    return b;
  };
  function discard() {
    texts = [baseText]; at = 0; group = null;
    $('restored').hidden = true;
    $('conflict').hidden = true;
    ask();
  }

  // Changing: changes wait while a request is on its way, and go together with the next.
  let busy = false, waiting = [], flags = {}, again = false, began = 0;
  function change(list, as, more) {
    for (const c of list) {
      waiting = waiting.filter((w) => !(w.do === 'set' && c.do === 'set' && w.path === c.path));
      waiting.push(c);
    }
    Object.assign(flags, more ?? {});
    next = as ?? null;
    ask();
  }
  let next = null;

  async function ask() {
    if (busy) { again = true; return; }
    busy = true; again = false;
    const mine = waiting, with_ = flags, as = next, from = text();
    waiting = []; flags = {};
    began = performance.now();
    try {
      const r = await fetch(base + '/try', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ text: from, base: baseText, changes: mine, ...with_ }) });
      if (!r.ok) throw new Error(await r.text());
      answer = await r.json();
      if (text() === from && answer.text !== from) put(answer.text, as);
      show();
    } catch (e) {
      state.textContent = e instanceof TypeError ? 'The server does not answer. What you change is kept here.' : e.message;
    }
    busy = false;
    if (again || waiting.length) ask();
  }

  // put makes a text the one that counts. What belongs to one gesture is undone at once.
  function put(t, as) {
    texts.length = at + 1;
    if (as && as === group && texts.length > 1) texts[at] = t;
    else { texts.push(t); at++; }
    group = as;
    while (texts.length > MOST) { texts.splice(1, 1); at--; }
    keep();
  }
  function go(step) {
    if (!(at + step in texts)) return;
    at += step; group = null;
    waiting = [];
    keep();
    ask();
  }

  // Showing
  function show() {
    drawn = performance.now();
    if (document.activeElement !== area && area.value !== answer.text) area.value = answer.text;
    showFields(answer.form);
    const errors = answer.problems.filter((p) => !p.warning);
    $('wrongs').replaceChildren(...(answer.fault ? [p('wrong', answer.fault)] : []), ...errors.slice(0, 3).map((e) => p('wrong', `Line ${e.line}, column ${e.column}: ${e.text}`)));
    state.textContent = answer.fault ? answer.fault : errors.length ? errors.length + (errors.length === 1 ? ' mistake' : ' mistakes') + ' to mend' : text() === baseText ? 'As saved' : 'Not saved yet';
    $('undo').disabled = at === 0;
    $('redo').disabled = at === texts.length - 1;
    const changed = $('changed');
    changed.replaceChildren();
    if (text() !== baseText) {
      const list = document.createElement('ul');
      for (const w of answer.changed.length ? answer.changed.slice(0, 12) : ['Only comments, or the way it is written.']) list.append(Object.assign(document.createElement('li'), { textContent: w }));
      if (answer.changed.length > 12) list.append(Object.assign(document.createElement('li'), { textContent: `and ${answer.changed.length - 12} more` }));
      changed.append(list);
    } else changed.append(p('hint', 'Nothing is changed.'));
    $('moved').hidden = !answer.moved;
    if (answer.moved) $('moved').firstElementChild.textContent = answer.moved;
    if (answer.scene) { scene = answer.scene; light = answer.light ?? light; steps(); draw(); }
    arrive();
    main.dataset.shown = String(Number(main.dataset.shown ?? 0) + 1);
    requestAnimationFrame(() => { main.dataset.took = (performance.now() - began).toFixed(0); });
  }
  let drawn = 0;

  // arrive goes to the field that another page led to, once its place on the page is known.
  let arrived = !location.hash;
  function arrive() {
    if (arrived) return;
    arrived = true;
    const to = document.getElementById(location.hash.slice(1));
    if (!to || !fields.contains(to)) return;
    (to.closest('.group') ?? to).open = true;
    to.focus({ preventScroll: true });
    to.scrollIntoView({ block: 'center' });
  }
  const p = (cls, t) => Object.assign(document.createElement('p'), { className: cls, textContent: t });

  // The form comes whole. If its fields are the same ones their values are put in, so that
  // the one that somebody types in is left alone; else all of it is new.
  function showFields(html) {
    const box = document.createElement('template');
    box.innerHTML = html;
    const signature = (root) => [...root.querySelectorAll('[data-path],[data-remove]')].map((e) => (e.dataset.path ?? '') + (e.dataset.remove ?? '')).join('\n');
    const typing = fields.contains(document.activeElement) && document.activeElement.dataset.path ? document.activeElement : null;
    if (signature(box.content) === signature(fields)) {
      const now = new Map([...fields.querySelectorAll('[data-path]')].map((e) => [e.dataset.path, e]));
      for (const fresh of box.content.querySelectorAll('[data-path]')) {
        const old = now.get(fresh.dataset.path);
        if (old !== typing && old.value !== fresh.value) old.value = fresh.value;
        old.placeholder = fresh.placeholder;
        old.labels[0].replaceChildren(...fresh.labels?.[0]?.childNodes ?? box.content.querySelector(`label[for="${fresh.id}"]`).childNodes);
        for (const a of ['aria-invalid', 'aria-describedby']) fresh.hasAttribute(a) ? old.setAttribute(a, fresh.getAttribute(a)) : old.removeAttribute(a);
        const was = old.parentNode.querySelector('.wrong'), is = fresh.parentNode.querySelector('.wrong');
        was?.remove();
        if (is) old.parentNode.append(is);
      }
      const all = [...box.content.querySelectorAll('.group')];
      [...fields.querySelectorAll('.group')].forEach((g, i) => {
        g.querySelector('summary').replaceChildren(...all[i].querySelector('summary').childNodes);
        const swap = (mine, fresh, after) => {
          mine.querySelectorAll(':scope > .wrong').forEach((e) => e.remove());
          after.after(...fresh.querySelectorAll(':scope > .wrong'));
        };
        swap(g, all[i], g.querySelector('summary'));
        const items = all[i].querySelectorAll('.item');
        g.querySelectorAll('.item').forEach((it, k) => swap(it, items[k], it.querySelector('.fields')));
        if (all[i].open) g.open = true;
        const add = all[i].querySelector('[data-add]');
        g.querySelectorAll('[data-add]').forEach((b) => { b.disabled = !add; if (add) b.dataset.text = add.dataset.text; });
        if (add && !g.querySelector('[data-add]')) g.append(add);
      });
      return;
    }
    const path = typing?.dataset.path, value = typing?.value, range = typing && [typing.selectionStart, typing.selectionEnd];
    const open = new Map([...fields.querySelectorAll('.group')].map((g) => [g.dataset.group, g.open]));
    fields.replaceChildren(box.content);
    for (const g of fields.querySelectorAll('.group')) if (open.get(g.dataset.group)) g.open = true;
    if (path) {
      const back = fields.querySelector(`[data-path="${CSS.escape(path)}"]`);
      if (back) { back.value = value; back.focus(); back.setSelectionRange(...range); }
    }
  }

  // Typing
  let typed = 0;
  fields.addEventListener('input', (e) => {
    const path = e.target.dataset.path;
    if (!path) return;
    clearTimeout(typed);
    typed = setTimeout(() => write(e.target), 120);
  });
  function write(input) {
    const v = input.value.trim(), path = input.dataset.path;
    if (v) change([{ do: 'set', path, text: v }], 'type ' + path);
    else if (input.defaultValue || input.dataset.was) change([{ do: 'remove', path }], 'type ' + path);
    input.dataset.was = v;
  }
  fields.addEventListener('focusin', (e) => { if (e.target.dataset.path) e.target.dataset.was = e.target.value; });
  fields.addEventListener('focusout', () => { group = null; });
  fields.addEventListener('click', (e) => {
    const b = e.target.closest('button');
    if (b) e.preventDefault(); // without script it asks the server
    if (b?.dataset.add) change([{ do: 'add', path: b.dataset.add, text: b.dataset.text }]);
    else if (b?.dataset.remove) change([{ do: 'remove', path: b.dataset.remove }]);
  });
  fields.addEventListener('keydown', (e) => { if (e.key === 'Enter' && e.target.dataset.path) { e.preventDefault(); clearTimeout(typed); write(e.target); } });
  let texting = 0;
  area.addEventListener('input', () => { clearTimeout(texting); texting = setTimeout(() => { const t = lineEnds(area.value); if (t !== text()) { put(t, 'text'); ask(); } }, 250); });
  area.addEventListener('blur', () => { group = null; });
  // A text field has \n alone; the file may end its lines otherwise.
  function lineEnds(t) { return (text().startsWith('\ufeff') && !t.startsWith('\ufeff') ? '\ufeff' : '') + (text().includes('\r\n') ? t.replace(/\r?\n/g, '\r\n') : t); }
  for (const n of ['since', 'why']) $(n)?.addEventListener('input', keep);

  $('undo').addEventListener('click', () => go(-1));
  $('redo').addEventListener('click', () => go(1));
  document.addEventListener('keydown', (e) => {
    if (!(e.ctrlKey || e.metaKey) || e.altKey || e.target === area || e.target.matches('#why,#by')) return;
    const k = e.key.toLowerCase();
    if (k === 'z') { e.preventDefault(); go(e.shiftKey ? 1 : -1); } else if (k === 'y') { e.preventDefault(); go(1); } else if (k === 's') { e.preventDefault(); form.requestSubmit(); }
  });
  $('settle').addEventListener('click', () => change([], null, { settle: true }));
  $('throw').addEventListener('click', discard);

  // The pictures
  const NS = 'http://www.w3.org/2000/svg';
  const el = (name, attrs, ...inner) => {
    const e = document.createElementNS(NS, name);
    for (const [k, v] of Object.entries(attrs)) e.setAttribute(k, v);
    e.append(...inner);
    return e;
  };
  const INCH = 0.0254;
  const step = () => Number($('step').value);
  function steps() {
    const want = scene.us ? [[0.25, '1/4 in'], [0.5, '1/2 in'], [1, '1 in'], [2, '2 in']].map(([v, t]) => [v * INCH, t]) : [[0.005, '0.5 cm'], [0.01, '1 cm'], [0.02, '2 cm'], [0.05, '5 cm']];
    if ($('step').dataset.us === String(scene.us)) return;
    $('step').dataset.us = String(scene.us);
    $('step').replaceChildren(...want.map(([v, t]) => Object.assign(document.createElement('option'), { value: v, textContent: inMarks(t) })));
    $('step').selectedIndex = 1;
  }
  const lengthIn = (v, unit) => trim(unit === 'in' ? v / INCH : v * 100) + ' ' + unit;
  const trim = (v) => String(Math.round(v * 100) / 100);
  const shown = (v) => inMarks(lengthIn(v, scene.us ? 'in' : 'cm'));

  // Where things are on the screen while they are dragged, ahead of the server.
  const ahead = new Map();
  let hold = null;

  function things() {
    const out = [];
    for (const [kind, list] of [['lamp', scene.lamps], ['plant', scene.plants], ['reading', scene.readings]]) {
      list.forEach((t, i) => { const k = kind + i; out.push({ ...t, ...(ahead.get(k) ?? {}), kind, key: k, index: i }); });
    }
    return out;
  }

  function draw() {
    if (!hold && !waiting.length) ahead.clear(); // what is still on its way stays where the person has put it
    pictures();
    if (light) {
      $('mean').textContent = inMarks(light.mean);
      $('range').textContent = inMarks(`${light.low} to ${light.high} µmol/m²/s`);
      $('dli').textContent = inMarks(light.dli);
    }
  }

  // pictures draws both anew; what has the keyboard keeps it.
  function pictures() {
    const focus = document.activeElement?.closest?.('.thing')?.dataset;
    drawPlan();
    drawSide();
    if (focus) document.querySelector(`#${focus.of} .thing[data-key="${focus.key}"]`)?.focus({ preventScroll: true });
  }

  function ticks(length) {
    const unit = scene.us ? INCH : 0.01, n = length / unit;
    const by = [1, 2, 5, 6, 10, 12, 20, 24, 50, 100, 200].filter((b) => !scene.us || b % 6 === 0 || b === 1 || b === 2).find((b) => n / b <= 7) ?? 500;
    const out = [];
    for (let i = 0; i * by <= n + 1e-6; i++) out.push([i * by * unit, String(i * by)]);
    return out;
  }

  function drawPlan() {
    const svg = $('plan'), w = scene.w, d = scene.d, f = 12.5 * w / Math.max((svg.clientWidth || 760) - 50, 200), left = 2.6 * f, top = f;
    const W = w + left + 1.2 * f, H = d + top + 3.2 * f; // room for the ticks, half a figure at the end of the last one
    svg.setAttribute('viewBox', `${-left} ${-top} ${W} ${H}`);
    svg.style.aspectRatio = `${W} / ${H}`;
    const y = (v) => d - v;
    const parts = [];
    for (const [i, x1, y1, x2, y2] of [[0, 0, 0, 0, d], [1, w, 0, w, d], [2, 0, d, w, d], [3, 0, 0, w, 0]]) {
      parts.push(el('line', { x1, y1, x2, y2, class: scene.open[i] ? 'open-line' : 'wall-line', 'stroke-width': f / (scene.open[i] ? 12 : 5), 'stroke-dasharray': scene.open[i] ? `${f / 3} ${f / 3}` : 'none' }));
    }
    for (const [v, t] of ticks(w)) parts.push(el('text', { x: v, y: d + 1.5 * f, 'font-size': f, 'text-anchor': 'middle', class: 'tick' }, t));
    for (const [v, t] of ticks(d)) if (v > 0) parts.push(el('text', { x: -0.5 * f, y: y(v) + 0.35 * f, 'font-size': f, 'text-anchor': 'end', class: 'tick' }, t));
    parts.push(el('text', { x: w / 2, y: d + 2.7 * f, 'font-size': f, 'text-anchor': 'middle', class: 'tick' }, `front, ${scene.us ? 'in' : 'cm'}`));
    // What is written on the plan keeps clear of the figures of the plants: a name of a lamp
    // stands where it is free, or not at all; the list below and the voice have it.
    const all = things(), taken = [];
    const room = (x, yy, size, text, anchor) => { const wide = 0.6 * size * text.length; return { x: anchor === 'start' ? x : anchor === 'end' ? x - wide : x - wide / 2, y: yy - 0.85 * size, w: wide, h: 1.1 * size }; };
    const free = (b) => b.x >= 0 && b.x + b.w <= w && b.y >= 0 && b.y + b.h <= d && !taken.some((o) => b.x < o.x + o.w && o.x < b.x + b.w && b.y < o.y + o.h && o.y < b.y + b.h);
    const plantSize = Math.min(0.035, 1.4 * f);
    const isLit = light?.plants?.length === scene.plants.length;
    const pinned = (t) => scene.readings.some((m) => Math.hypot(m.x - t.x, m.y - t.y) < plantSize);
    const figureAt = (t) => y(t.y) + (pinned(t) ? plantSize + 0.85 * f : 0.35 * f);
    for (const t of all) {
      if (t.kind === 'plant' && isLit) taken.push(room(t.x, figureAt(t), 0.95 * f, String(light.plants[t.index])));
      if (t.kind === 'reading') taken.push({ x: t.x - 0.5 * f, y: y(t.y) - 0.5 * f, w: f, h: f });
    }
    const called = new Map(); // where names of readings stand
    for (const t of all) {
      if (t.kind !== 'reading') continue;
      const cx = t.x, cy = y(t.y), s = 0.45 * f;
      const spots = [[cx + s + 0.2 * f, cy - s, 'start'], [cx - s - 0.2 * f, cy - s, 'end'], [cx + s + 0.2 * f, cy + s + 0.6 * f, 'start'], [cx, cy - s - 0.3 * f, 'middle'], [cx, cy + s + 0.95 * f, 'middle']];
      const spot = spots.find(([x, yy, anchor]) => free(room(x, yy, 0.85 * f, t.name, anchor))) ?? spots[0];
      taken.push(room(spot[0], spot[1], 0.85 * f, t.name, spot[2]));
      called.set(t.key, spot);
    }
    for (const t of all) {
      const cx = t.x, cy = y(t.y), g = el('g', {});
      if (t.kind === 'lamp') {
        const shape = t.round ? (a) => el('circle', { cx, cy, r: t.wide / 2, ...a }) : (a) => el('rect', { x: cx - t.wide / 2, y: cy - t.deep / 2, width: t.wide, height: t.deep, transform: `rotate(${-(t.turn ?? 0)} ${cx} ${cy})`, ...a });
        const box = Math.max(t.wide, 0.06), tall = Math.max(t.round ? t.wide : t.deep, 0.06);
        g.append(el('rect', { x: cx - box / 2, y: cy - tall / 2, width: box, height: tall, class: 'halo', 'stroke-width': f / 4, 'pointer-events': 'all' }));
        g.append(shape({ class: 'plan-lamp-under', 'stroke-width': f / 6 }), shape({ class: 'plan-lamp', 'stroke-width': f / 12, 'stroke-dasharray': `${f / 2.5} ${f / 4}` }));
        const half = (t.round ? t.wide : t.deep) / 2, begin = cx - t.wide / 2 + 0.3 * f;
        const spots = [];
        for (const yy of [cy - half - 0.35 * f, cy + half + 1.1 * f, cy + 0.35 * f, cy - half + 1.2 * f, cy + half - 0.5 * f]) spots.push([begin, yy, 'start'], [cx, yy, 'middle']);
        const spot = spots.find(([x, yy, anchor]) => free(room(x, yy, f, t.name, anchor)));
        if (spot) {
          taken.push(room(spot[0], spot[1], f, t.name, spot[2]));
          g.append(el('text', { x: spot[0], y: spot[1], 'font-size': f, 'text-anchor': spot[2], class: 'plan-text', 'stroke-width': f / 4 }, t.name));
        }
        g.append(el('title', {}, t.name));
      } else if (t.kind === 'plant') {
        const r = plantSize;
        g.append(el('circle', { cx, cy, r: Math.max(r * 1.2, 1.6 * f), class: 'halo', 'stroke-width': f / 4, 'pointer-events': 'all' }), el('circle', { cx, cy, r, class: 'plan-plant-under', 'stroke-width': f / 5 }), el('circle', { cx, cy, r, class: 'plan-plant', 'stroke-width': f / 12 }));
        if (isLit) g.append(el('text', { x: cx, y: figureAt(t), 'font-size': f * 0.95, 'text-anchor': 'middle', class: 'plan-text', 'stroke-width': f / 4 }, String(light.plants[t.index])));
      } else {
        const s = f * 0.45;
        g.append(el('circle', { cx, cy, r: 1.3 * f, class: 'halo', 'stroke-width': f / 4, 'pointer-events': 'all' }), el('path', { d: `M${cx} ${cy - s}L${cx + s} ${cy}L${cx} ${cy + s}L${cx - s} ${cy}Z`, class: 'plan-reading', 'stroke-width': f / 10 }));
        const [nx, ny, anchor] = called.get(t.key);
        g.append(el('text', { x: nx, y: ny, 'font-size': f * 0.85, 'text-anchor': anchor, class: 'plan-text', 'stroke-width': f / 4 }, t.name));
      }
      const lit = t.kind === 'plant' && isLit ? `${light.plants[t.index]} µmol/m²/s, ` : '';
      handle(g, t, 'plan', `${name(t)}, ${lit}${shown(t.x)} from the left, ${shown(t.y)} from the front`);
      parts.push(g);
    }
    svg.replaceChildren(...parts);
    heat(left, top, W, H);
  }
  const name = (t) => ({ lamp: 'Lamp ', plant: 'Plant ', reading: 'Reading ' })[t.kind] + t.name;

  function handle(g, t, of, label) {
    g.setAttribute('class', 'thing');
    g.setAttribute('tabindex', '0');
    g.setAttribute('role', 'button');
    g.setAttribute('aria-label', label);
    g.dataset.key = t.key;
    g.dataset.of = of;
  }

  function drawSide() {
    const svg = $('side'), w = scene.w, h = scene.h, f = 12.5 * w / Math.max((svg.clientWidth || 340) - 70, 160), m = 2.6 * f;
    svg.setAttribute('viewBox', `${-m * 1.1} ${-m * 0.6} ${w + 2.1 * m} ${h + 1.7 * m}`);
    const y = (v) => h - v, parts = [el('rect', { x: 0, y: 0, width: w, height: h, class: 'ground' })];
    for (const [i, x1, y1, x2, y2] of [[0, 0, 0, 0, h], [1, w, 0, w, h], [4, 0, h, w, h], [5, 0, 0, w, 0]]) parts.push(el('line', { x1, y1, x2, y2, class: scene.open[i] ? 'open-line' : 'wall-line', 'stroke-width': f / (scene.open[i] ? 12 : 5), 'stroke-dasharray': scene.open[i] ? `${f / 3} ${f / 3}` : 'none' }));
    for (const [v, t] of ticks(h)) parts.push(el('text', { x: -0.4 * f, y: y(v) + 0.35 * f, 'font-size': f, 'text-anchor': 'end', class: 'tick' }, t));
    parts.push(el('text', { x: w / 2, y: h + 1.5 * f, 'font-size': f, 'text-anchor': 'middle', class: 'tick' }, `planting surface; height in ${scene.us ? 'in' : 'cm'}`));
    const all = things();
    for (const t of all) if (t.kind === 'plant') { const tall = t.z > 0 ? t.z : 0.02; parts.push(el('line', { x1: t.x, y1: h, x2: t.x, y2: y(tall), class: 'wall-line side-plant-stem', 'stroke-width': f / 10 }), el('circle', { cx: t.x, cy: y(tall), r: f / 3.2, class: 'side-plant' })); }
    const seen = new Set();
    for (const t of all) {
      if (t.kind !== 'lamp') continue;
      const g = el('g', {}), thick = f / 2.2, place = `${t.x.toFixed(2)} ${t.z.toFixed(2)}`;
      g.append(el('path', { d: `M${t.x - t.wide / 2} ${y(t.z)}L${t.x + t.wide / 2} ${y(t.z)}L${Math.min(w, t.x + t.wide / 2 + t.z * 0.9)} ${h}L${Math.max(0, t.x - t.wide / 2 - t.z * 0.9)} ${h}Z`, class: 'side-beam', 'pointer-events': 'none' }));
      g.append(el('rect', { x: t.x - Math.max(t.wide, 0.08) / 2, y: y(t.z) - 1.2 * f, width: Math.max(t.wide, 0.08), height: 1.8 * f, class: 'halo', 'stroke-width': f / 5, 'pointer-events': 'all' }));
      g.append(el('rect', { x: t.x - t.wide / 2, y: y(t.z) - thick, width: t.wide, height: thick, class: 'side-lamp' }));
      if (!seen.has(place)) g.append(el('text', { x: t.x, y: y(t.z) - thick - 0.35 * f < f ? y(t.z) + 1.15 * f : y(t.z) - thick - 0.35 * f, 'font-size': f, 'text-anchor': 'middle', class: 'side-text' }, shown(t.z)));
      seen.add(place);
      handle(g, t, 'side', `${name(t)}, ${shown(t.z)} above the planting surface`);
      parts.push(g);
    }
    svg.replaceChildren(...parts);
  }

  // heat paints the light in bands under the plan.
  function heat(left, top, W, H) {
    const c = $('heat'), key = $('key');
    if (!light || !light.v?.length) { c.width = c.height = 0; return; }
    const px = 320, scale = px / W;
    c.width = px; c.height = Math.round(H * scale);
    const lo = Math.min(...light.v), hi = Math.max(...light.v);
    const raw = Math.max((hi - lo) / 8, 1), mag = 10 ** Math.floor(Math.log10(raw));
    const by = [1, 2, 5, 10].map((k) => k * mag).find((k) => k >= raw);
    const first = Math.floor(lo / by), n = Math.max(Math.floor(hi / by) - first + 1, 1);
    const pick = (i) => colours[n < 2 ? 5 : Math.round(i / (n - 1) * (colours.length - 1))];
    const rgb = Array.from({ length: n }, (_, i) => { const h = pick(i); return [1, 3, 5].map((k) => parseInt(h.slice(k, k + 2), 16)); });
    const ctx = c.getContext('2d'), img = ctx.createImageData(c.width, c.height), nx = light.nx, ny = light.ny;
    for (let j = 0; j < c.height; j++) {
      const v = (scene.d - (j / scale - top)) / scene.d;
      if (v < 0 || v > 1) continue;
      const gy = Math.min(v * (ny - 1), ny - 1.000001), y0 = Math.floor(gy), fy = gy - y0;
      for (let i = 0; i < c.width; i++) {
        const u = (i / scale - left) / scene.w;
        if (u < 0 || u > 1) continue;
        const gx = Math.min(u * (nx - 1), nx - 1.000001), x0 = Math.floor(gx), fx = gx - x0, o = y0 * nx + x0;
        const val = (light.v[o] * (1 - fx) + light.v[o + 1] * fx) * (1 - fy) + (light.v[o + nx] * (1 - fx) + light.v[o + nx + 1] * fx) * fy;
        const col = rgb[Math.min(Math.max(Math.floor(val / by) - first, 0), n - 1)], k = 4 * (j * c.width + i);
        img.data[k] = col[0]; img.data[k + 1] = col[1]; img.data[k + 2] = col[2]; img.data[k + 3] = 255;
      }
    }
    ctx.putImageData(img, 0, 0);
    key.replaceChildren(Object.assign(document.createElement('span'), { textContent: 'PPFD, µmol/m²/s:' }), ...Array.from({ length: n }, (_, i) => {
      const s = document.createElement('span'), sw = el('svg', { width: 14, height: 14, 'aria-hidden': 'true' }, el('rect', { width: 14, height: 14, fill: pick(i) }));
      s.append(sw, `${(first + i) * by}${i === n - 1 ? ' and more' : ''}`);
      return s;
    }));
  }

  // Moving: by pointer and by keys, in whole steps.
  const limits = (t) => ({ x: [0, scene.w], y: [0, scene.d], z: [0.001, scene.h] });
  function move(t, axis, value) {
    const s = step(), unit = t.unit[{ x: 0, y: 1, z: 2 }[axis]] || (scene.us ? 'in' : 'cm');
    const [lo, hi] = limits(t)[axis];
    const v = Math.min(Math.max(Math.round(value / s) * s, lo), hi);
    const spot = ahead.get(t.key) ?? {};
    if (Math.abs((spot[axis] ?? t[axis]) - v) < 1e-6) return null;
    ahead.set(t.key, { ...spot, [axis]: v });
    $('where').textContent = `${name(t)}: ${axis === 'z' ? 'height ' : axis === 'x' ? 'from the left ' : 'from the front '}${shown(v)}`;
    return { do: 'set', path: t.path[{ x: 0, y: 1, z: 2 }[axis]], text: lengthIn(v, unit) };
  }
  function moved(t, changes, as) {
    const list = changes.filter(Boolean);
    if (!list.length) return;
    pictures();
    change(list, as, t.kind === 'plant' && scene.grid ? { apart: true } : null);
  }
  const find = (e) => { const g = e.target.closest?.('.thing'); return g && things().find((t) => t.key === g.dataset.key); };

  for (const view of ['plan', 'side']) {
    const svg = $(view);
    const place = (e) => { const q = new DOMPoint(e.clientX, e.clientY).matrixTransform(svg.getScreenCTM().inverse()); return view === 'plan' ? { x: q.x, y: scene.d - q.y } : { z: scene.h - q.y }; };
    svg.addEventListener('pointerdown', (e) => {
      const t = scene && find(e);
      if (!t || e.button > 0) return;
      e.preventDefault();
      e.target.closest('.thing').focus({ preventScroll: true });
      const q = place(e);
      hold = { key: t.key, view, off: Object.fromEntries(Object.entries(q).map(([k, v]) => [k, t[k] - v])), as: 'drag ' + t.key + ' ' + Date.now() };
      svg.setPointerCapture(e.pointerId);
    });
    svg.addEventListener('pointermove', (e) => {
      if (!hold || hold.view !== view) return;
      const t = things().find((x) => x.key === hold.key);
      if (!t) return;
      const q = place(e);
      moved(t, Object.entries(q).map(([axis, v]) => move(t, axis, v + hold.off[axis])), hold.as);
    });
    const end = () => { if (hold?.view === view) { hold = null; if (!busy && !waiting.length) { ahead.clear(); group = null; if (scene) draw(); } } };
    svg.addEventListener('pointerup', end);
    svg.addEventListener('pointercancel', end);
    svg.addEventListener('keydown', (e) => {
      const t = scene && find(e);
      if (!t) return;
      const by = step() * (e.shiftKey ? 5 : 1);
      const dir = { ArrowLeft: ['x', -1], ArrowRight: ['x', 1], ArrowUp: view === 'plan' ? ['y', 1] : ['z', 1], ArrowDown: view === 'plan' ? ['y', -1] : ['z', -1] }[e.key];
      if (dir && !(view === 'side' && dir[0] === 'x')) {
        e.preventDefault();
        moved(t, [move(t, dir[0], t[dir[0]] + dir[1] * by)], 'keys ' + t.key);
      } else if ((e.key === 'Delete' || e.key === 'Backspace') && !(t.kind === 'plant' && scene.grid)) {
        e.preventDefault();
        const path = t.path[0].replace(/(\.at)?\[[01]\]$/, '');
        change([{ do: 'remove', path }]);
      }
    });
  }

  // Saving
  form.addEventListener('submit', async (e) => {
    e.preventDefault();
    clearTimeout(typed); clearTimeout(texting);
    if (document.activeElement === area) { const t = lineEnds(area.value); if (t !== text()) put(t, 'text'); }
    while (busy || waiting.length) await new Promise((r) => setTimeout(r, 20));
    state.textContent = 'Saving …';
    try {
      const mine = text();
      const r = await fetch(base, { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ text: mine, base: baseText, from: $('since')?.value ?? '', by: $('by').value, why: $('why').value }) });
      const a = await r.json().catch(() => ({ fault: 'It could not be saved.' }));
      if (r.ok) {
        baseText = mine; texts = [mine]; at = 0; group = null;
        try { localStorage.removeItem(slot); } catch { /* nothing was kept */ }
        location.assign(a.to);
      } else if (r.status === 409) conflict(a.theirs, a.fault);
      else { state.textContent = a.fault; $('wrongs').replaceChildren(p('wrong', a.fault)); }
    } catch {
      state.textContent = 'The server does not answer. Nothing is lost: save again when it does.';
    }
  });

  // Two have changed the same bench: both are shown, and the person decides.
  async function conflict(theirs, why) {
    const box = $('conflict');
    box.hidden = false;
    box.replaceChildren(p('', why));
    state.textContent = why;
    if (!theirs) { box.append(p('', 'It is not there any more. Copy your text from below to keep it.')); return; }
    const mine = text();
    const r = await fetch(base + '/merge', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ Mine: mine, Base: baseText, Theirs: theirs }) }).then((x) => x.json()).catch(() => null);
    const list = (title, all) => { const d = document.createElement('div'), ul = document.createElement('ul'); d.append(p('', title), ul); for (const w of all?.length ? all : ['only comments, or the way it is written']) ul.append(Object.assign(document.createElement('li'), { textContent: w })); return d; };
    const two = document.createElement('div');
    two.className = 'two';
    two.append(list('You changed', r?.mine), list('Meanwhile somebody changed', r?.theirs));
    const take = (t) => { baseText = theirs; texts = [theirs]; at = 0; group = null; if (t !== theirs) put(t, null); box.hidden = true; keep(); ask(); };
    const buttons = document.createElement('p');
    buttons.className = 'buttons';
    if (r?.text) buttons.append(button('Keep both: my changes in theirs', () => take(r.text)));
    buttons.append(button('Keep mine alone', () => take(mine)), button('Keep theirs alone', () => take(theirs)));
    box.append(two, ...(r?.fault ? [p('hint', 'Both cannot be put together: ' + r.fault)] : []), buttons);
    box.scrollIntoView({ block: 'nearest' });
  }

  let resized = 0;
  addEventListener('resize', () => { cancelAnimationFrame(resized); resized = requestAnimationFrame(() => { if (scene) draw(); }); });
  restore();
  ask();
})();
