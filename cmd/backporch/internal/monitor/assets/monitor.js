'use strict';
// The page keeps one picture at a time: it asks for the next only when the last is drawn.
const $ = id => document.getElementById(id);
const canvas = $('picture'), overlay = $('overlay'), ink = canvas.getContext('2d');
let socket, state, heard, audio, lastAnswer;

// A number stays with its unit.
const joined = text => text.replace(/(\d) (%|s\b)/g, '$1\u00a0$2');
function setText(node, text) { text = joined(text); if (node.textContent !== text) node.textContent = text; }

// ---- connection
function connect() {
  socket = new WebSocket('ws://' + location.host + '/live');
  socket.binaryType = 'blob';
  socket.onopen = () => { away(false); ask(); };
  socket.onmessage = event => typeof event.data === 'string' ? told(JSON.parse(event.data)) : draw(event.data);
  socket.onclose = () => { away(true); setTimeout(connect, 1000); };
}
function away(is) {
  $('away').hidden = !is;
  $('screen').classList.toggle('old', is);
  if (is) heard = undefined; // counts may begin anew
}
function send(message) {
  if (socket.readyState !== WebSocket.OPEN) { say('not connected', true); return; }
  socket.send(JSON.stringify(message));
}
function ask() { if (socket.readyState === WebSocket.OPEN) socket.send('{"do":"picture"}'); }

async function draw(blob) {
  try {
    const image = await createImageBitmap(blob);
    const first = !$('waiting').hidden, sized = canvas.width !== image.width || canvas.height !== image.height;
    if (sized) { canvas.width = image.width; canvas.height = image.height; }
    ink.drawImage(image, 0, 0);
    image.close();
    $('waiting').hidden = true;
    if (first || sized) outline();
  } catch (error) { console.error(error); }
  requestAnimationFrame(ask);
}

// ---- state
function told(message) {
  if (message.answer) { say(message.answer.error || message.answer.said, !!message.answer.error); return; }
  state = message;
  document.body.className = state.tone;
  setText($('heading'), state.heading);
  setText($('sentence'), state.sentence);
  const [first, ...rest] = state.next;
  $('test').hidden = !first && !state.good.length;
  setText($('next'), first ? first[0].toUpperCase() + first.slice(1) : '');
  $('next').previousElementSibling.hidden = !first;
  $('next').className = first && first.length > 110 ? 'long' : '';
  list($('rest'), rest.concat(state.good.map(text => 'Good: ' + text)), text => text);
  $('more').hidden = !$('rest').children.length;
  $('lock').className = state.lock === 'locked' ? 'locked' : state.lock === 'learning' ? '' : 'lost';
  setText($('lock-text'), state.lock_text);
  const c = state.counts;
  setText($('counts'), `${c.fields.toLocaleString('en')} fields, ${c.bad} bad, ${c.lost} lost`);
  setText($('source'), state.source + (state.job ? ', kept on ' + state.job : ''));
  for (const button of document.querySelectorAll('.keep button')) button.disabled = !state.can_keep;
  strip();
  mark();
  outline();
  sounds();
  canvas.setAttribute('aria-label', `The live picture: ${state.lock_text}. ${state.heading}. ${state.sentence}`);
}
function list(parent, items, text) {
  if (parent.dataset.items === JSON.stringify(items)) return;
  parent.dataset.items = JSON.stringify(items);
  parent.replaceChildren(...items.map(item => {
    const li = document.createElement('li');
    li.textContent = text(item);
    return li;
  }));
}
function strip() {
  const known = $('strip').dataset.first, first = String(state.strip[0] ? state.strip[0].number : 0);
  if (known === first) return;
  $('strip').dataset.first = first;
  $('strip').replaceChildren(...state.strip.map(event => {
    const li = document.createElement('li'), at = document.createElement('time'), what = document.createElement('span');
    li.className = event.kind;
    at.textContent = event.at;
    what.textContent = event.text;
    li.append(at, what);
    return li;
  }));
}
function mark() {
  const m = state.mark;
  setText($('since'), m ? m.result : '');
  $('since').className = m ? m.tone : '';
}

// ---- overlay, in samples and lines of the field
function shape(name, attributes, kind) {
  const node = document.createElementNS('http://www.w3.org/2000/svg', name);
  for (const key in attributes) node.setAttribute(key, attributes[key]);
  node.setAttribute('class', kind);
  return node;
}
let drawn = '';
function outline() {
  if (!state || !$('waiting').hidden) return; // there is nothing to lay it over yet
  const grid = pressed('grid') && state.grid, findings = pressed('findings');
  const key = JSON.stringify([canvas.width, canvas.height, grid, findings && [state.regions, state.bad]]);
  if (key === drawn) return;
  drawn = key;
  overlay.setAttribute('viewBox', `0 0 ${canvas.width} ${canvas.height}`);
  const parts = [];
  if (grid) {
    let path = '';
    for (let c = 1; c < grid.columns; c++) path += `M${grid.x + c * grid.w / grid.columns} ${grid.y}v${grid.h}`;
    for (let r = 1; r < grid.rows; r++) path += `M${grid.x} ${grid.y + r * grid.h / grid.rows}h${grid.w}`;
    parts.push(shape('path', { d: path }, 'cells'), shape('rect', { x: grid.x, y: grid.y, width: grid.w, height: grid.h }, 'edge'));
  }
  if (findings) {
    // Many regions are marked so that the picture stays to be seen: long ones, as of a lane, at their ends, cells thinly.
    const many = state.regions.length > 8;
    for (const r of state.regions) {
      if (many && r.h < 40) {
        parts.push(shape('rect', { x: r.x, y: r.y, width: r.w, height: r.h }, 'spot'));
        continue;
      }
      const boxes = many ? [[r.y - 7, 4], [r.y + r.h + 3, 4]] : [[r.y - 1, r.h + 2]];
      for (const [y, height] of boxes) {
        const box = { x: r.x - (many ? 0 : 2), y, width: r.w + (many ? 0 : 4), height };
        parts.push(shape('rect', box, 'case'), shape('rect', box, 'found'));
      }
    }
    if (state.bad) parts.push(shape('rect', { x: state.bad.x, y: state.bad.y, width: state.bad.w, height: state.bad.h }, 'now'));
  }
  overlay.replaceChildren(...parts);
}

// ---- sound
function tone(hz, at, length, volume) {
  const t = audio.currentTime + at, source = audio.createOscillator(), gain = audio.createGain();
  source.frequency.value = hz;
  gain.gain.setValueAtTime(volume, t);
  gain.gain.exponentialRampToValueAtTime(0.001, t + length);
  source.connect(gain).connect(audio.destination);
  source.start(t);
  source.stop(t + length);
}
function sounds() {
  const now = { ticks: state.ticks, changes: state.changes };
  if (heard && audio && pressed('sound')) {
    // A tick a bad field, as far as an ear tells them apart: one in 12 ms.
    const ticks = Math.min(now.ticks - heard.ticks, 8);
    for (let i = 0; i < ticks; i++) tone(1400, i * 0.012, 0.009, 0.5);
    if (now.changes > heard.changes) { tone(660, 0, 0.12, 0.35); tone(990, 0.13, 0.2, 0.35); }
    document.body.dataset.heard = now.ticks;
  }
  heard = now;
}

// ---- hands
const pressed = id => $(id).getAttribute('aria-pressed') === 'true';
function toggle(id) {
  $(id).setAttribute('aria-pressed', String(!pressed(id)));
  if (id === 'sound' && pressed(id)) {
    audio = audio || new AudioContext();
    audio.resume();
    tone(990, 0, 0.1, 0.3);
  }
  outline();
}
for (const id of ['grid', 'findings', 'sound']) $(id).addEventListener('click', () => toggle(id));
const keep = role => send({ do: 'keep', role });
for (const button of document.querySelectorAll('.keep button')) button.addEventListener('click', () => keep(button.dataset.role));
$('marking').addEventListener('submit', event => {
  event.preventDefault();
  send({ do: 'mark', text: $('what').value });
});
function say(text, bad) {
  $('answer').className = bad ? 'bad' : '';
  $('answer').textContent = text;
  clearTimeout(lastAnswer);
  lastAnswer = setTimeout(() => { $('answer').textContent = ''; }, 8000);
}
document.addEventListener('keydown', event => {
  if (event.target.tagName === 'INPUT') { if (event.key === 'Escape') event.target.blur(); return; }
  if (event.ctrlKey || event.altKey || event.metaKey) return;
  const act = { g: () => toggle('grid'), f: () => toggle('findings'), s: () => toggle('sound'), m: () => {}, // when it is let go
    b: () => keep('before'), d: () => keep('during'), a: () => keep('after') }[event.key];
  if (act) { event.preventDefault(); act(); }
});
// Where the field took the focus with the key still down, the key would be written into it.
document.addEventListener('keyup', event => {
  if (event.key === 'm' && event.target.tagName !== 'INPUT' && !event.ctrlKey && !event.altKey && !event.metaKey) $('what').focus();
});
connect();
