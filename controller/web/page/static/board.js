// The sheet "Now": what a glance has to answer comes first.

import { el, svg, fill, say, mark, keyed } from './dom.js'
import { line } from './link.js'
import { section, depthText } from './section.js'
import { waterOf } from './water.js'
import { quiet, charge, doing, stateWords } from './state.js'
import { benchActs, desk, siteActs } from './acts.js'
import { between, capital, clock, dateOf, dayFraction, litres, means, noted, percent, rough, shortDate, span, spaced, timeOf, when } from './words.js'

let root, word, reason, more, glance, waters, benches, conduct, shape, lately
let views = [] // by bench
let tanks = []

export function board() {
  root = el('div', { class: 'board' },
    el('section', { class: 'state', 'aria-labelledby': 'word' },
      shape = svg('svg', { viewBox: '0 0 40 40', class: 'shape', 'aria-hidden': 'true' }),
      el('div', { role: 'status' }, word = el('h2', { id: 'word' }), reason = el('p', { class: 'reason' })),
      more = el('ul', { class: 'more' })),
    el('div', null, waters = el('div', { class: 'waters' }), glance = el('section', { class: 'glance', 'aria-label': 'At a glance' })),
    benches = el('div', { class: 'benches' }),
    el('section', { class: 'sheet lately', 'aria-labelledby': 'lately' }, el('h2', { id: 'lately' }, 'Lately'), lately = el('ol')),
    (conduct = siteActs()).node)
  addEventListener('resize', fit)
  return { node: root, show, shown: fit }
}

const fit = () => views.forEach(v => v.fit())

function show() {
  const st = line.status
  showState(st)
  if (!st) return
  const facts = line.all.facts
  keyed(benches, facts, () => {
    views = facts.benches.map(benchView)
    return views.map(v => v.node)
  })
  keyed(waters, facts.reservoirs, () => {
    tanks = facts.reservoirs.map(waterOfTank)
    return tanks.map(v => v.node)
  })
  tanks.forEach(v => v.show(st))
  fit()
  showGlance(st)
  keyed(lately, [line.all.trips, line.all.diary, st.at.slice(0, 10)], () => news(st))
  conduct.show(st)
  st.benches.forEach((b, i) => views[i] && views[i].show(b, st))
}

function showState(st) {
  const grade = !st ? 'ask' : line.live ? st.needs_you : 'none'
  const needs = grade === 'none' || !st ? [] : st.needs.map(n => n.text)
  mark(root, 'data-state', grade)
  say(word, stateWords[grade])
  say(reason, !st ? 'The controller has not answered yet.'
    : grade === 'none' ? 'The controller is silent. Below is how it was at ' + timeOf(st.at) + '. Go and look.' : needs[0] || quiet(st))
  keyed(more, needs.slice(1), texts => texts.map(t => el('li', null, t)))
  keyed(shape, grade, shapeOf)
}

// shapeOf gives each state a shape of its own, for who does not see its colour.
function shapeOf(grade) {
  return {
    no: () => [svg('circle', { cx: 20, cy: 20, r: 17 }), svg('path', { d: 'M11 21l6 6 12-13' })],
    today: () => [svg('path', { class: 'body', d: 'M20 3L38 36H2Z' }), svg('path', { d: 'M20 14v11m0 4v3' })],
    now: () => [svg('path', { class: 'body', d: 'M12 2h16l10 10v16l-10 10H12L2 28V12Z' }), svg('path', { d: 'M20 9v15m0 5v3' })],
    none: () => [svg('circle', { cx: 20, cy: 20, r: 17, class: 'broken' }), svg('path', { d: 'M13 13l14 14M27 13L13 27' })],
    ask: () => [svg('circle', { cx: 20, cy: 20, r: 17, class: 'broken' })],
  }[grade]()
}

// row is one line of the glance.
const row = (name, ...what) => el('div', { class: 'row' }, el('h3', null, name), el('div', null, ...what))

function showGlance(st) {
  const several = st.benches.length > 1
  const now = st.at.slice(0, 16)
  const seen = {
    last: st.benches.map(b => [b.name, b.last_proven, b.last, b.phase]), next: st.benches.map(b => [b.name, b.next, b.skipped, b.queued]), plan: st.plan,
    res: st.reservoirs, supplies: line.all.outlook.supplies, now, several,
  }
  keyed(glance, seen, () => [
    row('Flooded', st.benches.map(b => lastOf(b, st, several))),
    row('Next', st.benches.map(b => nextOf(b, st, several))),
    row('Reservoir', st.reservoirs.map(r => storeOf(r, st))),
  ])
}

const named = (several, b) => several ? el('span', { class: 'name' }, b.name + ' ') : null

function lastOf(b, st, several) {
  const l = b.last
  if (!b.last_proven) {
    return el('p', null, named(several, b), el('b', null, l ? when(l.started || l.slot, st.at) : 'None on record'), l ? [' ', stamp(l.outcome)] : '')
  }
  const good = l && l.outcome === 'proven'
  return el('p', null, named(several, b), el('b', null, when(good ? l.started : b.last_proven, st.at)), ' ', stamp('proven'),
    el('small', null, ' ' + rough(between(b.last_proven, st.at)) + ' ago' + (good && l.fill_s ? '; filled in ' + clock(l.fill_s) + (l.fall_s ? ', fell in ' + clock(l.fall_s) : '') : '')))
}

function nextOf(b, st, several) {
  const n = b.next
  const left = b.skipped.length ? el('small', null, ' Skipped: ' + b.skipped.map(k => k.slot ? when(k.slot, st.at) : 'the next flood').join(', ') + '.') : null
  if (!n) return el('p', null, named(several, b), el('b', null, st.plan === 'calendar' ? 'None planned' : 'By elapsed time'), left)
  return el('p', null, named(several, b), el('b', null, when(n.due, st.at)), el('small', null, ' in ' + rough(Math.max(0, between(st.at, n.due))) + ', as ' + spaced(n.batch) + ' needs it from day ' + n.stage_from_day + ': ' + span(n.hold_s) + ' at ' + percent(n.strength)), left)
}

function storeOf(r, st) {
  const supply = line.all.outlook.supplies.filter(x => x.reservoir === r.name)[0]
  const away = line.all.facts.benches.some((f, i) => f.reservoir === r.name && st.benches[i].flood)
  const days = away || !supply || supply.days === null ? '' : lasts(supply)
  return el('p', null,
    el('b', null, away ? 'Lifted' : days || (r.basis === 'unknown' ? 'Not known' : litres(r.litres))),
    el('small', null, ' ' + (away ? 'to the table; its days are counted when the water is back.'
      : (days ? 'at this rate' + (supply.days_hottest < supply.days ? ', ' + Math.floor(supply.days_hottest) + ' if it is hot' : '') + '. ' : '') + capital(spaced(r.name)) + ': ' + r.words + '; ' + 'low switch ' + r.low + '.')),
    el('small', { class: 'ok' }, el('strong', null, 'Top up? '), r.top_up.words))
}

// waterOfTank asks about water that nobody has explained.
function waterOfTank(r) {
  const tank = spaced(r.name), text = el('p')
  const of = (st, key) => st.reservoirs.filter(x => x.name === r.name)[0][key]
  const open = (st, key) => of(st, key) && !of(st, key).answer
  const word = (label, key, path, poured, late) => ({
    label, path, direct: true, late, there: (b, st) => open(st, key),
    body: () => ({ reservoir: r.name, litres: of(line.status, key).litres, poured }),
  })
  const d = desk('Water of ' + tank, [
    word('I took it out', 'missing', 'took-out', undefined, st => 'Books ' + litres(of(st, 'missing').litres) + ' as taken out'),
    word('I poured it in', 'came', 'topped-up', true),
    word('Nobody poured', 'came', 'topped-up', false),
  ])
  const node = el('div', { class: 'sheet', hidden: true }, text, d.node)
  const told = (st, key, went, more) => open(st, key) ? litres(of(st, key).litres) + went + tank + ' since ' + when(of(st, key).from, st.at) + more : ''
  return {
    node,
    show(st) {
      say(text, told(st, 'missing', ' are missing from ', '. ') + told(st, 'came', ' came into ', ', booked as a top-up.'))
      d.show(null, st)
      node.hidden = d.node.hidden
    },
  }
}

// lasts says for how many days a reservoir is good; where only its low switch
// tells, from what that proves to what it would be were it full.
function lasts(s) {
  const least = Math.floor(s.days), most = s.at_least ? Math.floor(s.full_days || 0) : 0
  return (most > least ? least + ' to ' + most : least) + (most === 1 || most < 1 && least === 1 ? ' day' : ' days')
}

// stamp is an outcome: its shape and its word.
export function stamp(outcome) {
  return el('span', { class: 'stamp', 'data-is': outcome }, glyph(outcome), outcome)
}

// glyph is the shape of an outcome: water in a beaker, more or less of it.
function glyph(outcome) {
  const body = {
    proven: [svg('circle', { cx: 8, cy: 8, r: 6.5, class: 'full' }), svg('path', { d: 'M5 8.2l2.2 2.3L11.2 6', class: 'cutout' })],
    short: [svg('circle', { cx: 8, cy: 8, r: 6 }), svg('path', { d: 'M2 8a6 6 0 0 0 12 0z', class: 'full' })],
    unproven: [svg('circle', { cx: 8, cy: 8, r: 6 }), svg('path', { d: 'M6.2 6.4a1.9 1.9 0 1 1 2.6 2q-.8.4-.8 1.3M8 11.3v.9' })],
    interrupted: [svg('circle', { cx: 8, cy: 8, r: 6 }), svg('path', { d: 'M8 1v14' })],
    skipped: [svg('circle', { cx: 8, cy: 8, r: 6 }), svg('path', { d: 'M5 5.5l3 2.5-3 2.5M8.5 5.5l3 2.5-3 2.5' })],
    refused: [svg('circle', { cx: 8, cy: 8, r: 6 }), svg('path', { d: 'M4 4l8 8' })],
    missed: [svg('circle', { cx: 8, cy: 8, r: 6, class: 'broken' })],
    planned: [svg('path', { d: 'M8 3v10M4.5 9.5L8 13l3.5-3.5' })],
    'under way': [svg('path', { d: 'M2 10q3-4 6 0t6 0M2 6q3-4 6 0t6 0' })],
  }[outcome] || []
  return svg('svg', { viewBox: '0 0 16 16', class: 'glyph', 'aria-hidden': 'true' }, body)
}

const stands = batch => line.status.batches.some(k => k.name === batch && k.stage_from_day !== null)

// benchView is the sheet of one bench.
function benchView(f, i) {
  const batches = line.all.facts.batches.filter(k => k.bench === f.name)
  const r = line.all.facts.reservoirs.filter(x => x.name === f.reservoir)[0]
  const p = {}
  const id = 'bench' + i
  const acts = benchActs(f)
  const node = el('section', { class: 'sheet', 'aria-labelledby': id },
    el('div', { class: 'head' }, el('h2', { id }, capital(f.name)), p.doing = el('p')),
    p.trips = el('div', { class: 'trips' }),
    el('figure', null, p.drawing = el('div', { class: 'drawing' }),
      el('figcaption', null, p.depth = el('p', { class: 'depth' }), p.scale = el('p', { class: 'scale' }))),
    el('h3', null, 'Today'), p.strip = el('div', { class: 'strip' }), p.day = el('ol', { class: 'day' }),
    el('h3', null, 'In the pots'), p.crops = el('ul', { class: 'crops' }),
    el('h3', null, 'In charge'), p.charge = el('p', { class: 'charge' }),
    acts.node)
  const v = { node, drawing: null, drawn: '' }
  v.fit = () => {
    const width = Math.round(Math.min(p.drawing.clientWidth, 620)), here = batches.filter(k => stands(k.name))
    const drawn = width + here.map(k => k.name).join()
    if (!width || drawn === v.drawn) return
    v.drawn = drawn
    v.drawing = section(f, r, here, width)
    fill(p.drawing, v.drawing.node)
    say(p.scale, 'Cut lengthways, ' + (f.length_mm / 1000) + ' m long; heights drawn ' + v.drawing.scale + ' times larger. The reservoir is not to scale.')
    if (line.status) v.show(line.status.benches[i], line.status)
  }
  v.show = (b, st) => {
    const res = st.reservoirs.filter(x => x.name === f.reservoir)[0]
    const w = waterOf(b, f, st.at)
    say(p.doing, doing(b))
    if (v.drawing) v.drawing.show(b, res, st.outputs, st.at)
    say(p.depth, depthText(w))
    keyed(p.trips, b.latched, trips => trips.map((t, n) => tripCard(b, t, n, st)))
    const floods = floodsOf(b, st)
    keyed(p.strip, [floods, st.at.slice(0, 15)], () => strip(floods, st))
    keyed(p.day, floods, () => floods.length ? floods.map(dayItem) : el('li', null, el('small', null, 'No flood today.')))
    keyed(p.crops, [st.at.slice(0, 16), line.all.outlook], () => st.batches.filter(k => k.bench === f.name).map(k => cropItem(k, st)))
    keyed(p.charge, charge(b, st), c => [el('b', null, c[0]), ' – ' + c[1]])
    acts.show(b, st)
  }
  return v
}

const acted = { tripped: 'the pump was stopped', latched: 'the pump is off and stays off', 'weld-proven': 'a relay has welded', reset: 'reset' }

// news lists what the guard did and what people wrote, newest first.
function news(st) {
  const all = line.all.trips.map(t => [t.at, t.words + ': ' + (acted[t.act] || t.act) + (t.bench ? ' on ' + t.bench : ''), t.detail])
    .concat(line.all.diary.map(d => [d.at, noted(d), d.text]))
  all.sort((x, y) => Date.parse(y[0]) - Date.parse(x[0]))
  if (!all.length) return el('li', null, el('small', null, 'Nothing has happened, and nobody has written anything.'))
  return all.slice(0, 6).map(n => el('li', null, el('small', null, when(n[0], st.at)), ' ', n[1], n[2] ? el('small', null, ' – ' + n[2]) : null))
}

function tripCard(b, t, n, st) {
  return el('div', { class: 'trip' },
    el('h3', null, (n ? 'Then: ' : 'First cause: ') + t.words),
    el('dl', null,
      el('dt', null, 'What'), el('dd', null, capital(t.detail) + ', at ' + when(t.at, st.at) + '.'),
      el('dt', null, 'Done'), el('dd', null, 'The pump is off and stays off; the crop clock goes on.'),
      el('dt', null, 'To do'), el('dd', null, (t.remedy ? t.remedy + ' ' : 'Find and clear the cause. ') + 'Then reset ' + b.name + ' below.')))
}

// floodsOf are today's floods of a bench in order: those on record, the one
// under way, those planned.
function floodsOf(b, st) {
  const had = {}, all = [], day = dateOf(st.at)
  const add = (at, is, reason) => {
    if (had[at] || dateOf(at) !== day) return
    had[at] = true
    all.push({ at, is, reason })
  }
  if (b.flood) add(b.flood.slot, 'under way', '')
  if (b.last) add(b.last.slot, b.last.outcome, b.last.reason)
  for (const r of line.all.today) if (r.bench === b.name && r.outcome) add(r.slot, r.outcome, r.reason)
  for (const p of line.all.planned) if (p.bench === b.name) add(p.slot, 'planned', '')
  return all.sort((x, y) => x.at < y.at ? -1 : 1)
}

function strip(floods, st) {
  const x = share => 2 + share * 96 + '%'
  const hours = [0, 6, 12, 18, 24]
  const at = (share, node) => {
    node.style.left = x(share)
    return node
  }
  return el('div', { class: 'axis', 'aria-hidden': 'true' },
    hours.map(h => at(h / 24, el('i', { class: 'tick' }, String(h)))),
    at(dayFraction(st.at), el('i', { class: 'present' })),
    floods.map(f => at(dayFraction(f.at), el('i', { class: 'spot', 'data-is': f.is }, glyph(f.is)))))
}

const dayItem = f => el('li', { title: means[f.is] }, el('b', null, timeOf(f.at)), ' ', stamp(f.is), f.reason ? el('small', null, ' ' + f.reason) : null)

// cropItem is how a batch stands: its crop clock, and the water in its pots as
// planned floods and the climate make it.
function cropItem(k, st) {
  if (k.stage_from_day === null) return el('li', null, el('p', null, el('b', null, capital(spaced(k.name))), k.closed ? ' is closed; its last day was ' + shortDate(k.closed) + '.' : ' is in no stage of its plan today.'))
  const left = k.limit_s - k.since_s, hot = k.limit_by === 'pots'
  const plants = line.all.outlook.plants.filter(p => p.batch === k.name)[0]
  const share = Math.max(0, Math.min(1, 1 - k.crop_clock))
  return el('li', null,
    svg('svg', { viewBox: '0 0 34 40', class: 'potgauge', 'aria-hidden': 'true' },
      svg('path', { d: `M${2 + (1 - share) * 5} ${3 + (1 - share) * 34}H${32 - (1 - share) * 5}L27 37H7Z`, class: 'wet' }),
      svg('path', { d: 'M2 3H32L27 37H7Z' })),
    el('div', null,
      el('p', null, el('b', null, capital(spaced(k.name))), plants ? ', day ' + plants.age_days : ''),
      el('p', null, left > 0 ? (hot ? 'in hot weather its pots last ' : 'can wait ') + rough(left) + ' more' : hot ? 'its pots may be too dry' : 'has waited too long', el('small', null, '; ' + rough(k.since_s) + ' of ' + rough(k.limit_s) + ' are gone' + (k.no_flood ? '; no flood on record' : ''))),
      plants ? course(plants, st) : null))
}

// course draws the water in a pot over the coming days, on normal days and on
// the hottest.
function course(p, st) {
  const hours = line.all.outlook.days * 24, w = 300, h = 64
  const low = Math.min(p.limit, p.courses[2].lowest) - 0.05
  const x = t => t / hours * w, y = s => 4 + (1 - (s - low) / (1 - low)) * (h - 8)
  const path = c => 'M' + c.water.map(q => x(q[0]).toFixed(1) + ' ' + y(q[1]).toFixed(1)).join('L')
  const text = 'Water in the pots as planned: at least ' + percent(p.courses[1].lowest) + ' of what they hold, ' + percent(p.courses[2].lowest) + ' on the hottest days; below ' + percent(p.limit) + ' the plants begin to suffer.'
  return el('figure', { class: 'course' },
    svg('svg', { viewBox: '0 0 ' + w + ' ' + h, preserveAspectRatio: 'none', 'aria-hidden': 'true' },
      svg('path', { class: 'hair', d: `M0 ${h}H${w}M${x(24)} 0V${h}M${x(48)} 0V${h}` }),
      svg('path', { class: 'limit', d: `M0 ${y(p.limit)}H${w}` }),
      svg('path', { class: 'hot', d: path(p.courses[2]) }), svg('path', { class: 'normal', d: path(p.courses[1]) }),
      svg('path', { class: 'nowline', d: `M${x(dayFraction(st.at) * 24)} 0V${h}` })),
    el('figcaption', null, el('small', null, text)))
}
