// The sheet "Now": what a glance has to answer comes first.

import { el, svg, fill, say, mark, keyed } from './dom.js'
import { line } from './link.js'
import { section, depthText } from './section.js'
import { waterOf } from './water.js'
import { quiet, charge, doing, stateWords } from './state.js'
import { benchActs, actions, siteActs } from './acts.js'
import { between, called, capital, clock, dateOf, dayFraction, litres, noted, percent, rough, shortDate, span, timeOf, units, when } from './words.js'

const small = (...all) => el('small', null, all), bold = (...all) => el('b', null, all), para = (...all) => el('p', null, all)

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
  const grade = !st ? 'ask' : !line.live ? 'none' : st.needs_you === 'no' && st.hands_in ? 'hands' : st.needs_you
  const needs = grade === 'none' || !st ? [] : st.needs
  mark(root, 'data-state', grade)
  say(word, stateWords[grade])
  keyed(reason, needs.length ? needs[0] : !st ? 'The controller has not answered yet.'
    : grade === 'none' ? 'Below is how it was at ' + timeOf(st.at) + '. Go and look.' : grade === 'hands' ? st.states.filter(n => n.cause === 'hands-in')[0].text : quiet(st), told)
  keyed(more, needs.slice(1), all => all.map(n => el('li', null, told(n))))
  keyed(shape, grade, shapeOf)
}

// told is a need in whole sentences: the mains before anything else, where a hand
// could reach a wire or water; then what happened, what was done, what to do.
function told(n) {
  if (!n.text) return n
  const off = n.do.indexOf('. ') + 1
  return [n.mains ? el('strong', null, n.do.slice(0, off)) : '', ' ' + n.happened + ' ', n.done + ' ', n.mains ? n.do.slice(off + 1) : n.do,
    n.then.map(t => small(' ' + t))]
}

// shapeOf gives each state a shape of its own, for who does not see its colour.
function shapeOf(grade) {
  return {
    no: [disc(20, 17), stroke('M11 21l6 6 12-13')],
    today: [stroke('M20 3L38 36H2Z', 'body'), stroke('M20 14v11m0 4v3')],
    now: [stroke('M12 2h16l10 10v16l-10 10H12L2 28V12Z', 'body'), stroke('M20 9v15m0 5v3')],
    hands: [disc(20, 17), stroke('M15 13v14M25 13v14')],
    none: [disc(20, 17, 'broken'), stroke('M13 13l14 14M27 13L13 27')],
    ask: disc(20, 17, 'broken'),
  }[grade]
}

// row is one line of the glance.
const row = (name, ...what) => el('div', { class: 'row' }, el('h3', null, name), el('div', null, ...what))

function showGlance(st) {
  const several = st.benches.length > 1
  const now = st.at.slice(0, 16)
  const seen = {
    last: st.benches.map(b => [b.name, b.last_proven, b.last, b.phase]), next: st.benches.map(b => [b.name, b.next, b.skipped, b.queued, b.latched.length, b.weld]), plan: st.plan,
    res: st.reservoirs, supplies: line.all.outlook.supplies, now, several,
  }
  keyed(glance, seen, () => [
    row('Flooded', st.benches.map(b => lastOf(b, st, several))),
    row('Next', st.benches.map(b => nextOf(b, st, several))),
    row('Reservoir', st.reservoirs.map(r => storeOf(r, st))),
  ])
}

const named = (several, b) => several ? el('span', { class: 'name' }, called.bench(b.name) + ' ') : null

function lastOf(b, st, several) {
  const l = b.last && between(b.last.slot, st.at) >= 0 ? b.last : null
  const good = l && l.outcome === 'proven'
  const tried = l && !good ? el('small', { class: 'ok' }, 'Tried ' + when(l.started || l.slot, st.at) + ': ', stamp(l.outcome)) : ''
  if (!b.last_proven) return para(named(several, b), bold('None proven'), tried)
  return para(named(several, b), bold(when(good ? l.started : b.last_proven, st.at)), ' ', stamp('proven'),
    small(' ' + rough(between(b.last_proven, st.at)) + ' ago' + (good && l.fill_s ? '; filled in ' + clock(l.fill_s) + (l.fall_s ? ', fell in ' + clock(l.fall_s) : '') : '')), tried)
}

function nextOf(b, st, several) {
  const n = b.next
  const left = b.skipped.length ? small(' Skipped: ' + b.skipped.map(k => k.slot ? when(k.slot, st.at) : 'the next flood').join(', ') + '.') : null
  const locked = b.latched.length || b.weld
  if (locked) return para(named(several, b), bold('None until you reset'), n ? small(' ' + when(n.due, st.at) + ' will not run') : '', left)
  if (!n) return para(named(several, b), bold(st.plan === 'calendar' ? 'None planned' : 'By elapsed time'), left)
  return para(named(several, b), bold(when(n.due, st.at)), small(' in ' + rough(Math.max(0, between(st.at, n.due))) + ', as ' + called.batch(n.batch) + ' needs it from day ' + n.stage_from_day + ': ' + span(n.hold_s) + ' at ' + percent(n.strength)), left)
}

function storeOf(r, st) {
  const supply = line.all.outlook.supplies.filter(x => x.reservoir === r.name)[0]
  const away = line.all.facts.benches.some((f, i) => f.reservoir === r.name && st.benches[i].flood)
  const short = st.needs.some(n => n.cause === 'reservoir-low' && line.all.facts.benches.some(f => f.name === n.bench && f.reservoir === r.name))
  const days = away || short || !supply || supply.days === null ? '' : lasts(supply)
  return el('p', null,
    bold(away ? 'Pumped' : short ? 'Too little for a flood' : days || (r.basis === 'unknown' ? 'Not known' : litres(r.litres))),
    small(' ' + (away ? 'to the table; its days show when the water is back.'
      : (days ? 'at this rate' + (supply.days_hottest < supply.days ? ', ' + Math.floor(supply.days_hottest) + ' if it is hot' : '') + '. ' : '') + capital(called.reservoir(r.name)) + ': ' + r.words + '; ' + 'low switch ' + r.low + '.')),
    el('small', { class: 'ok' }, el('strong', null, 'Topping up – '), r.top_up.words))
}

// waterOfTank asks about water that nobody has explained.
function waterOfTank(r) {
  const tank = called.reservoir(r.name), text = el('p')
  const of = (st, key) => st.reservoirs.filter(x => x.name === r.name)[0][key]
  const open = (st, key) => of(st, key) && !of(st, key).answer
  const word = (label, key, path, poured, late) => ({
    label, path, direct: true, late, there: (b, st) => open(st, key),
    body: () => ({ reservoir: r.name, litres: of(line.status, key).litres, poured }),
  })
  const d = actions('Water of ' + tank, [
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
  if (least < 1) return most ? '' : 'Less than a day'
  return (most > least ? least + ' to ' + most : least) + ((most || least) === 1 ? ' day' : ' days')
}

// stamp is an outcome: its shape and its word.
export function stamp(outcome) {
  return el('span', { class: 'stamp', 'data-is': outcome }, glyph(outcome), outcome)
}

const disc = (cx, r, look) => svg('circle', { cx, cy: cx, r, class: look })
const stroke = (d, look) => svg('path', { d, class: look })

// glyph is the shape of an outcome: water in a beaker, more or less of it.
function glyph(outcome) {
  const ring = disc(8, 6)
  const body = {
    proven: [disc(8, 6.5, 'full'), stroke('M5 8.2l2.2 2.3L11.2 6', 'cutout')],
    short: [ring, stroke('M2 8a6 6 0 0 0 12 0z', 'full')],
    unproven: [ring, stroke('M6.2 6.4a1.9 1.9 0 1 1 2.6 2q-.8.4-.8 1.3M8 11.3v.9')],
    interrupted: [ring, stroke('M8 1v14')],
    skipped: [ring, stroke('M5 5.5l3 2.5-3 2.5M8.5 5.5l3 2.5-3 2.5')],
    refused: [ring, stroke('M4 4l8 8')],
    missed: disc(8, 6, 'broken'),
    planned: stroke('M8 3v10M4.5 9.5L8 13l3.5-3.5'),
    'under way': stroke('M2 10q3-4 6 0t6 0M2 6q3-4 6 0t6 0'),
  }[outcome]
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
    el('div', { class: 'head' }, el('h2', { id }, capital(called.bench(f.name))), p.doing = el('p')),
    p.trips = el('div', { class: 'trips' }),
    el('figure', null, p.drawing = el('div', { class: 'drawing' }),
      el('figcaption', null, p.depth = el('p', { class: 'depth' }), p.scale = el('p', { class: 'scale' }))),
    el('h3', null, 'Today'), p.strip = el('div', { class: 'strip' }), p.day = el('ol', { class: 'day' }),
    el('h3', null, 'In the pots'), p.crops = el('ul', { class: 'crops' }),
    el('h3', null, 'Mode'), p.charge = el('p', { class: 'charge' }),
    acts.node)
  const v = { node, drawing: null, drawn: '' }
  v.fit = () => {
    const width = Math.round(Math.min(p.drawing.clientWidth, 620)), here = batches.filter(k => stands(k.name))
    const drawn = width + here.map(k => k.name).join()
    if (!width || drawn === v.drawn) return
    v.drawn = drawn
    v.drawing = section(f, r, here, width)
    fill(p.drawing, v.drawing.node)
    say(p.scale, 'Cut lengthways, ' + units.m(f.length_mm) + ' long; heights drawn ' + v.drawing.scale + ' times larger. The reservoir is not to scale.')
    if (line.status) v.show(line.status.benches[i], line.status)
  }
  v.show = (b, st) => {
    const res = st.reservoirs.filter(x => x.name === f.reservoir)[0]
    const w = waterOf(b, f, st.at)
    say(p.doing, doing(b))
    if (v.drawing) v.drawing.show(b, res, st.outputs, st.at)
    say(p.depth, depthText(w))
    keyed(p.trips, st.needs.filter(n => n.bench === b.name && n.urgency === 'now'), all => all.map(n => el('div', { class: 'trip' }, told(n))))
    const floods = floodsOf(b, st)
    keyed(p.strip, [floods, st.at.slice(0, 15)], () => strip(floods, st))
    keyed(p.day, floods, () => floods.length ? floods.map(dayItem) : el('li', null, small('No flood today.')))
    keyed(p.crops, [st.at.slice(0, 16), b.latched.length, b.weld, line.all.outlook], () => st.batches.filter(k => k.bench === f.name).map(k => cropItem(k, st)))
    keyed(p.charge, charge(b, st), c => [bold(c[0]), ' – ' + c[1]])
    acts.show(b, st)
  }
  return v
}

const acted = { tripped: 'the pump was stopped', latched: 'the pump is off and stays off', 'weld-proven': 'a relay has welded', reset: 'reset' }

// news lists what the guard did and what people wrote, newest first.
function news(st) {
  const all = line.all.trips.map(t => [t.at, t.words + ': ' + (acted[t.act] || t.act) + (t.bench ? ' on ' + called.bench(t.bench) : ''), t.detail])
    .concat(line.all.diary.map(d => [d.at, noted(d), d.text]))
  all.sort((x, y) => Date.parse(y[0]) - Date.parse(x[0]))
  if (!all.length) return el('li', null, small('Nothing yet.'))
  return all.slice(0, 6).map(n => el('li', null, small(when(n[0], st.at)), ' ', n[1], n[2] ? small(' – ' + n[2]) : null))
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
  const at = (share, node) => {
    node.style.left = 2 + share * 96 + '%'
    return node
  }
  return el('div', { class: 'axis', 'aria-hidden': 'true' },
    [0, 6, 12, 18, 24].map(h => at(h / 24, el('i', { class: 'tick' }, String(h)))),
    at(dayFraction(st.at), el('i', { class: 'present' })),
    floods.map(f => at(dayFraction(f.at), el('i', { class: 'spot', 'data-is': f.is }, glyph(f.is)))))
}

const dayItem = f => el('li', null, bold(timeOf(f.at)), ' ', stamp(f.is), f.reason ? small(' ' + f.reason.replace(/(^|; )[a-z-]+: /g, '$1')) : null)

// cropItem is how a batch stands: its crop clock, and the water in its pots as
// planned floods and the climate make it.
function cropItem(k, st) {
  if (k.stage_from_day === null) return el('li', null, para(bold(capital(called.batch(k.name))), k.closed ? ' is closed; its last day was ' + shortDate(k.closed) + '.' : ' is in no stage of its plan today.'))
  const left = k.limit_s - k.since_s, hot = k.limit_by === 'pots'
  const plants = line.all.outlook.plants.filter(p => p.batch === k.name)[0]
  const share = Math.max(0, Math.min(1, 1 - k.crop_clock))
  return el('li', null,
    svg('svg', { viewBox: '0 0 34 40', class: 'potgauge', 'aria-hidden': 'true' },
      stroke(`M${2 + (1 - share) * 5} ${3 + (1 - share) * 34}H${32 - (1 - share) * 5}L27 37H7Z`, 'wet'),
      stroke('M2 3H32L27 37H7Z')),
    el('div', null,
      para(bold(capital(called.batch(k.name))), plants ? ', day ' + plants.age_days : ''),
      para(left > 0 ? (hot ? 'in hot weather its pots last ' : 'can wait ') + rough(left) + ' more' : hot ? 'its pots may be too dry' : 'has waited too long', small('; ' + rough(k.since_s) + ' of ' + rough(k.limit_s) + ' are gone' + (k.no_flood ? '; no flood on record' : ''))),
      plants ? course(plants, st) : null))
}

// lived is the water of a plan as it came and can come: a flood that did not count
// wets no pot, and where a bench is locked none is to come.
function lived(water, p, st) {
  const b = st.benches.filter(x => x.name === p.bench)[0]
  const hour = stamp => dayFraction(stamp) * 24, now = hour(st.at)
  const wet = floodsOf(b, st).filter(f => f.is === 'proven' || f.is === 'short').map(f => hour(f.at))
  let lost = 0
  return water.map((q, i) => {
    const rise = i ? q[1] - water[i - 1][1] : 0
    if (rise > 0) lost = q[0] > now ? (b.latched.length || b.weld ? lost + rise : 0) : wet.some(h => Math.abs(h - q[0]) < 1.5) ? 0 : lost + rise
    return [q[0], q[1] - lost]
  })
}

// course draws the water in a pot over the coming days, on normal days and on
// the hottest.
function course(p, st) {
  const hours = line.all.outlook.days * 24, w = 300, h = 64
  const low = Math.min(p.limit, p.courses[2].lowest) - 0.05
  const x = t => t / hours * w, y = s => 4 + (1 - (Math.max(s, low) - low) / (1 - low)) * (h - 8)
  const path = c => 'M' + lived(c.water, p, st).map(q => x(q[0]).toFixed(1) + ' ' + y(q[1]).toFixed(1)).join('L')
  const text = 'As planned the pots keep at least ' + percent(p.courses[1].lowest) + ' of their water, ' + percent(p.courses[2].lowest) + ' on the hottest days; below ' + percent(p.limit) + ' the plants suffer.'
  return el('figure', { class: 'course' },
    svg('svg', { viewBox: '0 0 ' + w + ' ' + h, preserveAspectRatio: 'none', 'aria-hidden': 'true' },
      stroke(`M0 ${h}H${w}M${x(24)} 0V${h}M${x(48)} 0V${h}`, 'hair'),
      stroke(`M0 ${y(p.limit)}H${w}`, 'limit'),
      stroke(path(p.courses[2]), 'hot'), stroke(path(p.courses[1]), 'normal'),
      stroke(`M${x(dayFraction(st.at) * 24)} 0V${h}`, 'nowline')),
    el('figcaption', null, small(text)))
}
