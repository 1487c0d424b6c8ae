// Rounds with a phone. What is typed or photographed is in the phone's own database before
// a button lets go; it is sent when that can be, again and again under the same id, until
// the server has said that it is on its disk.
'use strict';
(() => {
  const main = document.querySelector('main[data-rounds]');
  if (!main) return;
  const bench = main.dataset.rounds;
  const zone = main.dataset.zone || undefined;
  const base = (b) => '/bench/' + encodeURIComponent(b) + '/rounds';
  const $ = (s) => main.querySelector(s);
  const $$ = (s) => [...main.querySelectorAll(s)];
  const places = $$('.walk [data-plant]');
  const plants = places.map((a) => a.dataset.plant);
  const form = $('.look');
  const names = { mass: 'fresh mass', height: 'height', width: 'width', leaves: 'leaves', severity: 'burn', burn: 'burn', first: 'first burn', note: 'note', photo: 'photo', cut: 'cut' };
  const randomID = () => [...crypto.getRandomValues(new Uint8Array(16))].map((b) => b.toString(16).padStart(2, '0')).join('');

  const moment = new Intl.DateTimeFormat(undefined, { timeZone: zone, day: 'numeric', month: 'short', hour: '2-digit', minute: '2-digit', hourCycle: 'h23' });
  const dayText = new Intl.DateTimeFormat('en-CA', { timeZone: zone });
  const dayOf = (ms) => dayText.format(ms);

  let phone = '', queue = [], last = { plants: {}, conflicts: 0 }, plant = '', shots = [], drafted = new Set();

  function trouble(text) {
    const box = $('.trouble');
    box.textContent = text;
    box.hidden = !text;
  }
  const lost = (e) => trouble('The phone could not keep this: ' + (e?.message || e?.name || e) + ' It is still on the screen. Write it down if it does not go away; a private window and a full phone keep nothing.');

  // --- clock: the offset of the server's clock from this one, as last seen ---
  let contact; // in this life of the page
  let offset; // also from earlier lives
  function met(now, sent) {
    const got = Date.now(), steady = performance.now();
    if (Math.abs((got - sent.wall) - (steady - sent.steady)) > 1000) return; // the clock was changed while the server was asked
    offset = Math.round(now - (sent.wall + got) / 2);
    contact = { offset, wall: got, steady };
    roundStore.put('known', 'offset', offset).catch(() => {});
  }
  const jumped = () => contact ? Math.round((Date.now() - contact.wall) - (performance.now() - contact.steady)) : 0;
  const trueNow = () => Date.now() + (offset ?? 0);

  // --- asking the server ---
  class Refused extends Error { constructor(status, why) { super(why); this.status = status; } }
  async function server(url, options) {
    const sent = { wall: Date.now(), steady: performance.now() };
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), options?.body instanceof Blob ? 120000 : 20000);
    try {
      const answer = await fetch(url, { cache: 'no-store', redirect: 'error', signal: stop.signal, ...options });
      const json = (answer.headers.get('Content-Type') ?? '').startsWith('application/json');
      const body = json ? await answer.json() : {};
      if (answer.ok && !json) throw new Refused(503, 'Something else than the server answers.');
      if (!answer.ok) throw new Refused(answer.status, body.why ?? 'The server answers ' + answer.status + '.');
      if (body.now_ms) met(body.now_ms, sent);
      return body;
    } finally {
      clearTimeout(timer);
    }
  }
  const passing = (e) => !(e instanceof Refused) || e.status >= 500 || [401, 403, 408, 421, 429].includes(e.status);

  // --- what is in the phone ---
  async function readQueue() {
    queue = (await roundStore.all('queue')).sort((a, b) => a.entry.typed_ms - b.entry.typed_ms || a.order - b.order);
    drafted = new Set((await roundStore.keys('drafts')).filter((k) => k.startsWith(bench + '|')).map((k) => k.slice(bench.length + 1)));
    showQueue();
    showPlan();
    if (plant) showLast();
  }

  function says(e) {
    if (e.missing) return names[e.what] + ' not measured: ' + e.missing;
    if (e.what === 'note') return 'note: ' + e.note;
    if (e.what === 'severity') return 'burn grade ' + e.typed;
    return names[e.what] + (e.typed ? ' ' + e.typed : '');
  }

  function showQueue() {
    const box = $('.queue'), list = box.querySelector('ul');
    box.hidden = queue.length === 0;
    const refused = queue.filter((q) => q.refused).length;
    box.classList.toggle('refused', refused > 0);
    $('.queue-count').textContent = queue.length === 0 ? '' : 'Not yet sent: ' + queue.length + (refused ? ', refused: ' + refused : '');
    list.replaceChildren(...queue.map((q) => {
      const li = document.createElement('li');
      const text = document.createElement('span');
      text.textContent = (q.bench === bench ? '' : q.bench + ': ') + q.entry.plant + ', ' + says(q.entry) + ', ' + moment.format(q.entry.typed_ms + (offset ?? 0));
      li.append(text);
      if (q.refused) {
        li.className = 'refused';
        const why = document.createElement('strong');
        why.textContent = ' Refused: ' + q.refused;
        const again = button('Open to change', () => reopen(q));
        const away = button('Throw away', () => { if (confirm('Throw away ' + q.entry.plant + ', ' + says(q.entry) + '?')) discard(q); });
        li.append(why, again, away);
      }
      return li;
    }));
  }
  const button = (text, act) => {
    const b = Object.assign(document.createElement('button'), { type: 'button', className: 'quiet', textContent: text });
    b.addEventListener('click', act);
    return b;
  };
  async function discard(q) {
    await roundStore.change(['queue', 'photos'], (s) => {
      s.queue.delete(q.entry.id);
      if (q.entry.photo) s.photos.delete(q.entry.photo);
    }).catch(lost);
    await readQueue();
  }
  // A refused entry goes back into the form, as it was typed.
  async function reopen(q) {
    if (q.bench !== bench) { location.href = base(q.bench); return; }
    const key = bench + '|' + q.entry.plant;
    const draft = (await roundStore.get('drafts', key)) ?? { fields: {}, shots: [] };
    if (q.entry.what === 'note') draft.fields.note = q.entry.note;
    else if (q.entry.what === 'photo') draft.shots.push(q.entry.photo);
    else draft.fields[q.entry.what] = (q.entry.typed ?? '').replace(/ (g|oz|cm|in)$/, '');
    await roundStore.change(['queue', 'drafts'], (s) => { s.drafts.put(draft, key); s.queue.delete(q.entry.id); }).catch(lost);
    await readQueue();
    await go(q.entry.plant, true);
  }

  // --- sending ---
  let sending = false, again = false, wait = 0, timer;
  async function send() {
    if (sending) { again = true; return; }
    sending = true;
    const why = $('.queue-why');
    try {
      do {
        again = false;
        await readQueue();
        for (const b of new Set(queue.filter((q) => !q.refused).map((q) => q.bench))) {
          await sendPhotos(b);
          await sendEntries(b);
        }
      } while (again);
      wait = 0;
      why.textContent = '';
      await askLast();
    } catch (e) {
      wait = Math.min(60000, wait ? wait * 2 : 5000);
      why.textContent = !passing(e) ? e.message : [401, 403].includes(e.status) ? 'The server does not know this phone any more: sign in again. Nothing is lost.' :
        e instanceof Refused ? e.message : 'The server cannot be reached. What you enter stays in this phone and is sent later.';
    }
    sending = false;
    await readQueue().catch(lost);
    clearTimeout(timer);
    if (queue.some((q) => !q.refused)) timer = setTimeout(send, wait || 5000);
  }

  async function refuse(q, reason) {
    await roundStore.put('queue', q.entry.id, { ...q, refused: reason });
  }

  async function sendPhotos(b) {
    for (const q of queue.filter((x) => x.bench === b && x.entry.what === 'photo' && !x.refused && !x.uploaded)) {
      const blob = await roundStore.get('photos', q.entry.photo);
      if (!blob) { await refuse(q, 'the picture is not in this phone any more'); continue; }
      try {
        await server(base(b) + '/photo?' + new URLSearchParams({ id: q.entry.photo, phone }), { method: 'POST', body: blob, headers: { 'Content-Type': blob.type || 'application/octet-stream' } });
        await roundStore.put('queue', q.entry.id, { ...q, uploaded: true });
      } catch (e) {
        if (passing(e)) throw e;
        await refuse(q, e.message);
      }
    }
    await readQueue();
  }

  const atOnce = 100;
  async function sendEntries(b) {
    for (;;) {
      const part = queue.filter((q) => q.bench === b && !q.refused && (q.entry.what !== 'photo' || q.uploaded)).slice(0, atOnce);
      if (part.length === 0) return;
      const packet = JSON.stringify({ 'underlamp rounds': 1, phone, now_ms: Date.now(), entries: part.map((q) => q.entry) });
      let answer;
      try {
        answer = await server(base(b) + '/send', { method: 'POST', body: packet, headers: { 'Content-Type': 'application/json' } });
      } catch (e) {
        if (passing(e)) throw e;
        for (const q of part) await refuse(q, e.message);
        await readQueue();
        return;
      }
      const kept = new Set(answer.kept), no = new Map(answer.refused.map((r) => [r.id, r.why]));
      await roundStore.change(['queue', 'photos'], (s) => {
        for (const q of part) {
          if (kept.has(q.entry.id)) {
            s.queue.delete(q.entry.id);
            if (q.entry.photo) s.photos.delete(q.entry.photo);
          } else if (no.has(q.entry.id)) s.queue.put({ ...q, refused: no.get(q.entry.id) }, q.entry.id);
        }
      });
      for (const q of part) if (q.entry.photo && kept.has(q.entry.id)) measuring.push({ bench: b, photo: q.entry.photo, plant: q.entry.plant, tries: 0 });
      askMeasured();
      if (answer.doubts.length) note(answer.doubts.map((d) => 'Please look: ' + d.plant + '. ' + d.text).join(' '));
      await readQueue();
      if (!part.some((q) => kept.has(q.entry.id) || no.has(q.entry.id))) return; // an answer that says nothing of it
    }
  }

  // --- photos that the server measures ---
  const measuring = [];
  let asking = false;
  async function askMeasured() {
    if (asking) return;
    asking = true;
    while (measuring.length) {
      const m = measuring[0];
      try {
        const a = await server(base(m.bench) + '/photo?' + new URLSearchParams({ photo: m.photo }));
        if (a.state !== 'waiting') {
          measuring.shift();
          const box = $('.measured'), more = document.createElement('a');
          more.href = a.url;
          more.textContent = 'Look at the photo';
          box.classList.toggle('warn', a.state === 'refused');
          box.replaceChildren('Photo of ' + m.plant + ': ' + a.text + ' ', more);
          box.hidden = false;
          continue;
        }
      } catch { /* asked again */ }
      if (++m.tries > 60) { measuring.shift(); continue; }
      await new Promise((resolve) => setTimeout(resolve, 2000));
    }
    asking = false;
  }

  // --- choosing a plant by its label ---
  const scanSays = (text) => { $('.scan-says').textContent = text; };
  async function chosenBy(ask) {
    scanSays('Reading the label…');
    try {
      const a = await ask();
      scanSays('');
      await go(a.plant);
      navigator.vibrate?.(30);
    } catch (e) {
      scanSays(e instanceof Refused ? e.message : 'The server cannot be reached; type the name, or tap the plant.');
    }
  }
  $('#f-scan').addEventListener('change', async (e) => {
    const file = e.target.files[0];
    e.target.value = '';
    if (file) await chosenBy(() => server(base(bench) + '/label', { method: 'POST', body: file, headers: { 'Content-Type': file.type || 'application/octet-stream' } }));
  });
  // Live: browsers have a reader of codes on some systems, and the camera on secure addresses alone.
  async function liveScan() {
    const button = $('.live-scan'), video = $('.scan video');
    if (!self.isSecureContext || !('BarcodeDetector' in self) || !navigator.mediaDevices?.getUserMedia) return;
    if (!(await BarcodeDetector.getSupportedFormats().catch(() => [])).includes('qr_code')) return;
    const reader = new BarcodeDetector({ formats: ['qr_code'] });
    let stream;
    const stop = () => {
      stream?.getTracks().forEach((t) => t.stop());
      stream = undefined;
      video.hidden = true;
      button.textContent = 'Scan labels live';
    };
    button.hidden = false;
    button.addEventListener('click', async () => {
      if (stream) { stop(); return; }
      try {
        stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: 'environment' } });
      } catch (e) {
        scanSays('The camera cannot be used (' + e.message + '); take a photo of the label.');
        return;
      }
      video.srcObject = stream;
      video.hidden = false;
      button.textContent = 'Stop';
      await video.play();
      while (stream) {
        const codes = await reader.detect(video).catch(() => []);
        const text = codes.map((c) => c.rawValue).find((t) => /^U[0-9A-Z]{4,15}$/.test(t));
        if (text) { stop(); await chosenBy(() => server(base(bench) + '/code?' + new URLSearchParams({ text }))); break; }
        await new Promise((resolve) => setTimeout(resolve, 150));
      }
    });
    document.addEventListener('visibilitychange', () => { if (document.hidden) stop(); });
  }
  liveScan();

  async function askLast() {
    last = await server(base(bench) + '/last');
    await roundStore.put('known', 'last|' + bench, last);
    showPlan();
    if (plant) showLast();
    const c = $('.conflicts');
    c.hidden = !last.conflicts;
    c.firstElementChild.textContent = last.conflicts === 1 ? 'Two people saw one plant differently: decide which counts' : 'Conflicts to decide: ' + last.conflicts;
  }

  // --- the plan ---
  function seenToday(p) {
    const today = dayOf(trueNow());
    return queue.some((q) => q.bench === bench && q.entry.plant === p && dayOf(q.entry.typed_ms + (offset ?? 0)) === today) ||
      Object.values(last.plants[p] ?? {}).some((l) => dayOf(l.at_ms) === today);
  }
  function showPlan() {
    for (const a of places) {
      const p = a.dataset.plant, done = seenToday(p), begun = !done && drafted.has(p);
      a.classList.toggle('done', done);
      a.querySelector('.mark').textContent = done ? '✓' : begun ? '…' : '';
      a.setAttribute('aria-label', 'Plant ' + p + (done ? ', seen today' : begun ? ', begun' : ''));
    }
  }
  function fitPlan() {
    const svg = $('.walk'), room = $('.plan-scroll').clientWidth;
    const width = Math.max(room, Number(svg.dataset.least));
    svg.setAttribute('viewBox', '0 0 ' + svg.dataset.width + ' ' + svg.dataset.height);
    svg.setAttribute('width', width);
    svg.setAttribute('height', width * svg.dataset.height / svg.dataset.width);
  }

  // --- one plant ---
  const inputs = () => $$('[data-what]');
  function fields() {
    const out = {};
    for (const i of inputs()) {
      if (i.type === 'radio') { if (i.checked) out[i.dataset.what] = i.value; } else if (i.type === 'checkbox') { if (i.checked) out[i.dataset.what] = '1'; } else if (i.value.trim()) out[i.dataset.what] = i.value.trim();
    }
    return out;
  }
  function fill(f) {
    for (const i of inputs()) {
      if (i.type === 'radio') i.checked = f[i.dataset.what] === i.value;
      else if (i.type === 'checkbox') i.checked = Boolean(f[i.dataset.what]);
      else { i.value = f[i.dataset.what] ?? ''; i.removeAttribute('aria-invalid'); }
    }
    $('.more').open = Boolean(f.cut || f.first || f.lacking || f.reason);
    showGrade();
  }
  function showGrade() {
    const chosen = $('.grade input:checked');
    $('.grade-chosen').textContent = chosen ? 'Grade ' + chosen.value + ', ' + chosen.closest('.grade').querySelector('.grade-says').textContent : '';
    $('.unburn').hidden = !chosen;
  }
  const draftKey = () => bench + '|' + plant;
  // Each letter is in the database: a page that is closed loses nothing. Writes follow one
  // another, so that the last one counts.
  let writing = Promise.resolve();
  function saveDraft() {
    if (!plant) return writing;
    const key = draftKey(), value = { fields: fields(), shots: [...shots] };
    const empty = shots.length === 0 && Object.keys(value.fields).length === 0;
    if (empty) drafted.delete(plant); else drafted.add(plant);
    writing = writing.then(() => empty ? roundStore.remove('drafts', key) : roundStore.put('drafts', key, value)).catch(lost);
    return writing;
  }

  function own(what) { // what this phone entered of this plant today, sent or not
    const today = dayOf(trueNow());
    const waiting = queue.filter((q) => q.bench === bench && q.entry.plant === plant && q.entry.what === what && !q.refused && dayOf(q.entry.typed_ms + (offset ?? 0)) === today).at(-1);
    if (waiting) return waiting.entry.id;
    const l = last.plants[plant]?.[what];
    return l && l.phone === phone && dayOf(l.at_ms) === today ? l.id : undefined;
  }
  function showLast() {
    for (const box of $$('[data-last]')) {
      const what = box.dataset.last;
      const waiting = queue.filter((q) => q.bench === bench && q.entry.plant === plant && q.entry.what === what).at(-1);
      const l = last.plants[plant]?.[what];
      box.textContent = waiting ? (waiting.entry.missing ? 'not measured' : (what === 'severity' ? 'grade ' : '') + waiting.entry.typed) + ', in this phone' : l ? inMarks(l.text) + ', ' + moment.format(l.at_ms) + (l.by ? ', ' + l.by : '') : '';
      box.classList.toggle('mine', Boolean(own(what)));
    }
  }

  async function showShots() {
    for (const img of $$('.shots img')) URL.revokeObjectURL(img.src);
    const items = [];
    for (const id of shots) {
      const blob = await roundStore.get('photos', id);
      if (!blob) continue;
      const li = document.createElement('li'), img = document.createElement('img');
      img.src = URL.createObjectURL(blob);
      img.alt = 'Photo ' + (items.length + 1) + ' of ' + plant;
      li.append(img, button('Take away', async () => {
        shots = shots.filter((s) => s !== id);
        await saveDraft();
        await roundStore.remove('photos', id).catch(lost);
        showShots();
      }));
      items.push(li);
    }
    $('.shots').replaceChildren(...items);
  }

  async function go(p, keepNote) {
    await writing;
    plant = p;
    if (location.hash !== '#' + encodeURIComponent(p)) history.pushState(null, '', '#' + encodeURIComponent(p));
    const draft = (await roundStore.get('drafts', draftKey()).catch(lost)) ?? { fields: {}, shots: [] };
    shots = draft.shots;
    fill(draft.fields);
    $('.plant-name').textContent = p;
    $('.plant-of').textContent = plants.includes(p) ? (plants.indexOf(p) + 1) + ' of ' + plants.length : 'not on the plan';
    if (!keepNote) note('');
    showLast();
    await showShots();
    $('#plant').hidden = false;
    $('#choose').hidden = true;
    main.classList.add('walking');
    scrollTo(0, 0);
    $('#plant h2').focus({ preventScroll: true });
  }
  function plan(push) {
    plant = '';
    main.classList.remove('walking');
    $('#plant').hidden = true;
    $('#choose').hidden = false;
    if (push && location.hash) history.pushState(null, '', location.pathname);
    fitPlan();
    showPlan();
  }
  function note(text) { $('.kept-note').textContent = text; }
  const beside = (step) => plants[(plants.indexOf(plant) + step + plants.length) % plants.length];

  // Typed numbers, as the server reads them; the words of a refusal are its own.
  const number = /^\d{1,6}(\.\d{1,4}|,\d{1,2})?$/; // 1,234 could be two things
  function entries() {
    const f = fields(), out = [], bad = [];
    const with_ = $('#scale').value.trim() || undefined, by = $('#who').value.trim() || undefined;
    const common = { plant, by, typed_ms: Date.now(), before_ms: offset, jump_ms: Math.abs(jumped()) > 1000 ? jumped() : undefined };
    const add = (what, more) => out.push({ id: randomID(), what, ...common, ...more, corrects: what === 'photo' || what === 'note' ? undefined : own(what) });
    for (const [what, unit] of [['mass', $('[data-unit=mass]').value], ['height', $('[data-unit=length]').value], ['width', $('[data-unit=length]').value], ['leaves', '']]) {
      if (f[what] === undefined) continue;
      if (!number.test(f[what]) || what === 'leaves' && !/^\d{1,3}$/.test(f[what])) { bad.push(what); continue; }
      add(what, { typed: (f[what] + ' ' + unit).trim(), with: what === 'leaves' ? undefined : with_ });
    }
    if (f.severity !== undefined) add('severity', { typed: f.severity });
    if (f.first) add('first', { typed: f.first });
    if (f.lacking && f[f.lacking] === undefined) {
      if (!f.reason) bad.push('reason'); else add(f.lacking, { missing: f.reason });
    }
    for (const id of shots) add('photo', { photo: id, note: f.side ? 'from the side' : undefined });
    if (f.note) add('note', { note: f.note });
    if (f.cut) add('cut', {});
    return { out, bad };
  }

  let keeping = false;
  async function keep() {
    if (keeping) return; // a second tap on the same look
    const { out, bad } = entries();
    for (const i of inputs()) i.toggleAttribute('aria-invalid', bad.includes(i.dataset.what));
    if (bad.length) {
      note(bad[0] === 'reason' ? 'Say why it could not be measured.' : 'The ' + names[bad[0]] + ' is no number such as ' + (bad[0] === 'leaves' ? '14.' : '12.5.'));
      $('[data-what=' + bad[0] + ']').focus();
      return;
    }
    if (out.length === 0) { note('Nothing was entered for ' + plant + '.'); await go(beside(1), true); return; }
    keeping = true;
    form.classList.add('busy');
    const was = plant;
    try {
      await writing;
      await roundStore.change(['queue', 'drafts'], (s) => {
        out.forEach((entry, i) => s.queue.put({ bench, entry, order: i }, entry.id));
        s.drafts.delete(draftKey());
      });
      shots = [];
      await readQueue();
      note(was + ' is kept in this phone: ' + out.map(says).join(', ') + '.');
      navigator.vibrate?.(30);
      await go(plants.includes(was) ? beside(1) : was, true);
      trouble('');
      send();
    } catch (e) {
      lost(e);
    }
    form.classList.remove('busy');
    keeping = false;
  }

  // --- hands on the page ---
  form.addEventListener('submit', (e) => { e.preventDefault(); keep(); });
  form.addEventListener('keydown', (e) => { // the pad's own key goes on to the next field; only the button keeps
    if (e.key !== 'Enter' || e.target.tagName !== 'INPUT') return;
    e.preventDefault();
    const all = $$('.look .amount input');
    (all[all.indexOf(e.target) + 1] ?? e.target).focus();
    if (all.at(-1) === e.target) e.target.blur();
  });
  form.addEventListener('input', () => { showGrade(); saveDraft(); });
  $('.unburn').addEventListener('click', () => { for (const r of $$('.grade input')) r.checked = false; showGrade(); saveDraft(); });
  $('.before').addEventListener('click', () => go(beside(-1)));
  $('.after').addEventListener('click', () => go(beside(1)));
  $('.back-to-plan').addEventListener('click', () => plan(true));
  $('.send').addEventListener('click', () => { wait = 0; send(); });
  $('.code').addEventListener('submit', (e) => {
    e.preventDefault();
    const typed = $('#code').value.trim(), found = plants.find((p) => p.toLowerCase() === typed.toLowerCase());
    if (found) { $('#code').value = ''; go(found); } else trouble(typed ? 'The plan has no plant “' + typed + '”. Its plants are ' + plants.slice(0, 4).join(', ') + ' … ' + plants.at(-1) + '.' : '');
  });
  for (const a of places) a.addEventListener('click', (e) => { e.preventDefault(); trouble(''); go(a.dataset.plant); });
  $('#f-photo').addEventListener('change', async (e) => {
    for (const file of e.target.files) {
      const id = randomID();
      try {
        // A copy of its bytes: the file of a camera may go away.
        await roundStore.put('photos', id, new Blob([await file.arrayBuffer()], { type: file.type }));
        shots.push(id);
        await saveDraft();
      } catch (err) { lost(err); }
    }
    e.target.value = '';
    showShots();
  });
  for (const [id, key] of [['who', 'who'], ['scale', 'scale']]) $('#' + id).addEventListener('input', (e) => roundStore.put('known', key, e.target.value).catch(lost));
  for (const s of $$('[data-unit]')) s.addEventListener('change', () => { showUnit(); roundStore.put('known', 'unit-' + s.dataset.unit, s.value).catch(lost); });
  const showUnit = () => { $('.same-unit').textContent = $('[data-unit=length]').value; };

  addEventListener('online', () => { wait = 0; send(); });
  document.addEventListener('visibilitychange', () => { if (!document.hidden) send(); });
  addEventListener('resize', () => { if (!plant) fitPlan(); });
  function route() {
    let p = '';
    try { p = decodeURIComponent(location.hash.slice(1)); } catch { /* no name of a plant */ }
    if (plants.includes(p)) { if (p !== plant) go(p); } else if (plant || !p) plan();
  }
  addEventListener('popstate', route);

  // --- the two levels ---
  async function level() {
    const text = $('.level');
    const one = 'What you enter is in this phone before the button lets go, and stays there until the server has it, also if the browser is closed. ';
    if (!self.isSecureContext || !navigator.serviceWorker) {
      main.dataset.level = '1';
      text.textContent = one + (self.isSecureContext ? 'This browser has no service worker (a private window has none)' : 'The address begins with http://, and browsers let only https:// pages start without network') + ': to open this page again, the server must be reachable. Leave it open on the walk.';
      return;
    }
    try {
      await navigator.serviceWorker.register('/rounds-worker.js', { scope: '/bench/' });
      const active = (await navigator.serviceWorker.ready).active;
      const kept = await new Promise((resolve) => {
        const ch = new MessageChannel();
        ch.port1.onmessage = (e) => resolve(e.data === 'kept');
        active.postMessage({ page: location.pathname, files: main.dataset.assets.split(' ') }, [ch.port2]);
        setTimeout(() => resolve(false), 10000);
      });
      main.dataset.level = '2';
      const persisted = await navigator.storage?.persist?.().catch(() => false);
      text.textContent = one + (kept || !navigator.onLine ? 'The page is kept here too: it opens without network, for days. “Add to the home screen” in the menu of the browser makes it an app of its own.' : 'The page opens without network, as it was when it was last loaded.') + (persisted ? '' : ' The browser may clear it away if the phone runs out of room: send before you leave it for long.');
    } catch (e) {
      main.dataset.level = '1';
      text.textContent = one + 'The browser did not take the worker that lets the page start without network (' + e.message + '), so leave the page open on the walk.';
    }
  }

  (async () => {
    try {
      const known = (key) => roundStore.get('known', key);
      phone = await known('phone');
      if (!phone) { phone = randomID(); await roundStore.put('known', 'phone', phone); }
      offset = await known('offset');
      $('#who').value = (await known('who')) ?? '';
      if (!$('#who').value) $('#choose').before($('#about-round')); // asked first, once
      $('#scale').value = (await known('scale')) ?? '';
      for (const s of $$('[data-unit]')) s.value = (await known('unit-' + s.dataset.unit)) ?? s.value;
      last = (await known('last|' + bench)) ?? last;
      await readQueue();
    } catch (e) {
      lost(e);
      trouble('This browser keeps nothing for this page (' + (e?.message ?? e) + '). Use a window that is not private; the rounds would not be safe here.');
      return;
    }
    showUnit();
    fitPlan();
    route();
    main.dataset.ready = 'yes';
    send();
    level();
  })();
})();
