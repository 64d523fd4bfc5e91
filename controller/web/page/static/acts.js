// What a person can do. Each act says first what will happen, has an end or can
// be taken back, and shows the controller's own words when it is refused.

import { el, fill, mark, say } from './dom.js'
import { act } from './link.js'
import { called, capital, litres, rough, span, timeOf, when } from './words.js'

const grace = 6000 // ms in which an act that has no end of its own can be taken back

let count = 0

// actions is a row of acts with the one form that the open act has.
// acts: {key, label, kind, there(b, st), words(b, st), fields, verb, path, body(values, b, as it was when the act was opened), late, direct: at the first touch}
export function actions(title, acts) {
  const id = 'actions' + count++
  const d = { open: null, b: null, st: null }
  const row = el('div', { class: 'buttons', hidden: true })
  const form = el('form', { class: 'form', hidden: true, id: id + 'p', novalidate: true })
  const answer = el('div', { class: 'answer', role: 'status' })
  d.node = el('section', { class: 'actions', 'aria-label': title, hidden: true }, row, form, answer)

  for (const a of acts) {
    a.button = el('button', { type: 'button', class: a.kind || null, 'aria-expanded': 'false', 'aria-controls': form.id, click: () => toggle(a) }, a.label)
    row.appendChild(a.button)
  }

  function toggle(a) {
    if (d.open === a) return close(true)
    close(false)
    if (a.direct) return a.waits || (a.late ? wait(a, a.body(), a.late(d.st)) : send(a, a.body()))
    fill(answer)
    d.open = a
    d.seen = d.b
    mark(a.button, 'aria-expanded', 'true')
    d.words = el('p', { class: 'words', id: id + 'w' })
    const fields = a.fields ? a.fields(d.b, d.st) : []
    fill(form, d.words, fields.map(fieldOf), el('div', { class: 'buttons' },
      el('button', { type: 'submit', class: 'do', 'aria-describedby': id + 'w' }, a.verb(d.b)),
      el('button', { type: 'button', class: 'plain', click: () => close(true) }, 'Cancel')))
    form.hidden = false
    say(d.words, a.words(d.b, d.st))
    const first = form.querySelector('input, select, textarea') || form.querySelector('button')
    first.focus()
  }

  function close(back) {
    if (!d.open) return
    mark(d.open.button, 'aria-expanded', 'false')
    form.hidden = true
    if (back) d.open.button.focus()
    d.open = null
  }

  form.addEventListener('submit', e => {
    e.preventDefault()
    const a = d.open, values = {}
    for (const input of form.querySelectorAll('[name]')) values[input.name] = input.value.trim()
    const missing = [].slice.call(form.querySelectorAll('[required]')).filter(i => !i.value.trim())[0]
    if (missing) {
      mark(missing, 'aria-invalid', 'true')
      mark(missing, 'aria-describedby', missing.id + 'e')
      say(document.getElementById(missing.id + 'e'), 'Please fill this in.')
      missing.focus()
      return
    }
    const body = a.body(values, d.b, d.seen)
    close(true)
    if (a.late) wait(a, body, a.late)
    else send(a, body)
  })
  form.addEventListener('keydown', e => {
    if (e.key === 'Escape') close(true)
  })

  // wait leaves time to take an act back. A page that goes away sends it.
  function wait(a, body, late) {
    let timer = 0
    a.waits = true
    const go = () => {
      stop()
      send(a, body)
    }
    const stop = () => {
      a.waits = false
      clearTimeout(timer)
      removeEventListener('pagehide', go)
    }
    const back = el('button', {
      type: 'button', click: () => {
        stop()
        fill(answer, el('p', null, 'Taken back: nothing was changed.'))
        a.button.focus()
      },
    }, 'Undo')
    fill(answer, el('p', null, late + ' in ' + grace / 1000 + ' s.'), back)
    addEventListener('pagehide', go)
    timer = setTimeout(go, grace)
  }

  async function send(a, body) {
    fill(answer, el('p', null, 'Asking the controller …'))
    const r = await act(a.path, body)
    const again = (words, path, body) => el('button', { type: 'button', click: () => send(Object.assign({}, a, { path }), body) }, capital(words))
    if (r.done) {
      fill(answer, el('p', { class: 'done' }, capital(r.done) + '.'), r.undo && again(r.undo.words, r.undo.act, r.undo.body))
      return
    }
    fill(answer, el('p', { class: 'refused', role: 'alert' }, !r.silent && el('b', null, r.unknown ? 'Not logged in. ' : r.needs ? 'Wait. ' : 'Refused. '), capital(r.refused) + (/[.?!]$/.test(r.refused) ? '' : '.')),
      r.needs && again(r.needs === 'sure' ? 'It is right, write it down' : 'I have made sure', a.path, Object.assign({}, body, { [r.needs]: true })))
  }

  d.show = (b, st) => {
    Object.assign(d, { b, st })
    for (const a of acts) {
      a.button.hidden = a.there ? !a.there(b, st) : false
      if (a.name) say(a.button, a.name(b, st))
    }
    row.hidden = acts.every(a => a.button.hidden)
    if (d.open && d.open.button.hidden) close(false)
    d.node.hidden = row.hidden && !answer.firstChild
    if (d.open && d.words) say(d.words, d.open.words(b, st))
  }
  return d
}

// fieldOf: {name, label, type, value, options, required, hint, step}
function fieldOf(f) {
  const id = 'f' + count++
  const common = { id, name: f.name, required: f.required, 'aria-describedby': f.hint ? id + 'h' : null, autocomplete: 'off' }
  const input = f.options
    ? el('select', common, f.options.map(o => el('option', { value: o[0] }, o[1])))
    : el('input', Object.assign(common, { type: f.type || 'text', inputmode: f.type === 'number' ? 'decimal' : null, step: f.step, value: f.value, min: f.min, max: f.max }))
  return el('div', { class: 'field' }, el('label', { for: id }, f.label), input,
    f.hint ? el('small', { id: id + 'h' }, f.hint) : null, el('small', { id: id + 'e', class: 'wrong' }))
}

const latest = b => b.skipped[b.skipped.length - 1]
const running = b => b.phase === 'filling' || b.phase === 'holding' || b.phase === 'recording'

export function benchActs(f) {
  const bench = f.name, place = called.bench(bench)
  const only = () => ({ bench })
  return actions('What you can do on ' + place, [
    {
      label: 'Stop the flood', kind: 'urgent', path: 'stop', body: only, there: b => running(b) || b.phase === 'rest' && b.queued, verb: b => running(b) ? 'Stop the pump now' : 'Withdraw the flood that waits',
      words: b => !running(b) ? 'The flood of ' + place + ' that waits for its turn does not start.' : 'The pump of ' + place + ' goes off at once and the table drains. The flood counts as interrupted, and the plants keep waiting for the next one.',
    },
    {
      label: 'Reset', kind: 'urgent', path: 'reset', there: b => b.latched.length > 0, verb: () => 'Reset ' + place, late: 'Resets ' + place,
      words: b => 'Do this when the cause (' + b.latched[0].words + ') is found and gone; while it stands, the reset is refused. The pump may then start again by itself. Better stay and watch the next flood.',
      fields: () => [{ name: 'found', label: 'What did you find?', required: true, hint: 'In your words, such as: a leaf in the standpipe.' }],
      body: v => ({ bench, found: v.found }),
    },
    {
      label: 'Flood now', path: 'flood', there: b => !running(b) && b.phase !== 'draining', verb: () => 'Flood ' + place + ' now',
      words: (b, st) => floodWords(b, f, st),
      fields: () => [{ name: 'hold', label: 'How long the water stands', options: [['0', 'as the stage says'], ['120', '2 min'], ['240', '4 min'], ['360', '6 min'], ['600', '10 min']] }],
      body: v => ({ bench, hold_s: +v.hold }),
    },
    {
      label: 'Skip the next', path: 'skip-next', there: (b, st) => (b.next || st.plan === 'elapsed') && b.skipped.length < 2, verb: b => b.next ? 'Skip ' + timeOf(b.next.slot) : 'Skip the next flood',
      words: (b, st) => (b.next ? 'The flood of ' + when(b.next.slot, st.at) : 'The next flood') + ' is left out. You can undo that until its time; then it goes on record as skipped. The one after it comes as planned. The crop clock goes on, so mind the heat.',
      body: (v, b, seen) => seen.next ? { bench, slot: seen.next.slot } : only(),
    },
    {
      label: 'Undo the skip', path: 'undo-skip', there: b => b.skipped.length, verb: b => 'Flood at ' + timeOf(latest(b).due) + ' after all',
      words: (b, st) => 'The flood of ' + when(latest(b).due, st.at) + ' comes as planned. See that nobody works in the bench then.',
      body: (v, b, seen) => latest(seen).slot ? { bench, slot: latest(seen).slot } : only(),
    },
    {
      label: 'Pause', path: 'pause', there: b => !b.paused_until, verb: () => 'Pause ' + place,
      words: (b, st) => 'No flood of ' + place + ' starts by itself until then; it goes on by itself afterwards, and you can resume it earlier. A flood that runs goes on. The crop clock goes on: ' + waits(bench, st),
      fields: () => [{ name: 'until', label: 'For how long', options: [['1 h', '1 hour'], ['3 h', '3 hours'], ['6 h', '6 hours'], ['12 h', '12 hours'], ['24 h', 'a day'], ['48 h', 'two days']] },
        { name: 'by', label: 'Your name (so that others know whom to ask)' }],
      body: v => ({ bench, until: v.until, by: v.by }),
    },
    {
      label: 'Resume', path: 'resume', there: b => b.paused_until, verb: () => 'Resume ' + place,
      words: () => 'Floods of ' + place + ' start by themselves again, from the next planned one. You can pause it again.', body: only,
    },
  ])
}

function floodWords(b, f, st) {
  if (b.refusal) return 'The controller would refuse this now: ' + b.refusal.detail + (b.refusal.until ? ', perhaps until ' + when(b.refusal.until, st.at) : '') + '. You can ask all the same.'
  return 'The pump lifts about ' + litres(f.v_flood_l) + ' onto ' + called.bench(f.name) + ' (' + span(f.t_fill_s) + '), the water stands, then it drains (' + span(f.t_drain_s) + '). It ends by itself, “Stop the flood” ends it sooner, and every interlock stays in force.'
}

function waits(bench, st) {
  const all = st.batches.filter(k => k.bench === bench && k.stage_from_day !== null)
  if (!all.length) return 'nothing stands on the bench.'
  return all.map(k => called.batch(k.name) + ' can wait ' + rough(Math.max(0, k.limit_s - k.since_s)) + ' more').join('; ') + '.'
}

export function siteActs() {
  const d = actions('What you can do on the site', [
    {
      label: 'Hands in', kind: 'hands', path: 'hands-in', there: (b, st) => !st.hands_in, verb: () => 'Hands in: stop everything',
      words: () => 'Every pump goes off at once and nothing starts until you end it here or at its button. A flood under way is interrupted. You are reminded every hour.',
      body: () => ({ on: true }),
    },
    {
      label: 'Hands out', kind: 'hands', path: 'hands-in', there: (b, st) => st.hands_in, verb: () => 'Hands out: go on',
      words: () => 'Floods start by themselves again, from the next planned one. See that everybody’s hands are out of the benches.',
      body: () => ({ on: false }),
    },
    {
      label: 'Seen', path: 'acknowledge', there: (b, st) => st.messages.unacknowledged > 0, verb: () => 'I have seen them', body: v => ({ by: v.by }),
      fields: () => [{ name: 'by', label: 'Your name' }],
      words: (b, st) => 'Messages about the ' + st.messages.unacknowledged + ' that wait stop repeating. It resets nothing.',
    },
  ])
  d.node.querySelector('.buttons').appendChild(el('a', { href: '#diary', class: 'button' }, 'Diary'))
  const show = d.show
  d.show = st => show(null, st)
  return d
}

