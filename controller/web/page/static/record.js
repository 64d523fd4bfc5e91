// The sheet "Record": days, weeks and a season as charts, and what happened as
// lists. Every chart has its figures beside it as a table.

import { add } from './main.js'
import { line, get } from './link.js'
import { el, fill, keyed, mark, svg } from './dom.js'
import { stamp } from './board.js'
import { messages, showMessages, askForAlarms } from './messages.js'
import { called, capital, clock, litres, shortDate, timeOf, units, when } from './words.js'

// means says what an outcome says of the water.
const means = {
  proven: 'the switch saw the water come and go',
  short: 'the water came but did not stand as long as planned',
  unproven: 'nothing shows that the water came and went',
  interrupted: 'something or somebody ended it early',
  skipped: 'a person left it out',
  refused: 'it was not allowed to start',
  missed: 'nobody was there to start it',
  planned: 'still to come',
  'under way': 'happening now',
}

const ranges = [['7 d', '7 days'], ['30 d', '30 days'], ['120 d', '120 days']]
let range = ranges[1][0], bench = '', asked = '', series = null, floods = [], trips = [], width = 0

const choose = el('div', { class: 'buttons', role: 'group', 'aria-label': 'How far back' }, ranges.map(r =>
  el('button', { type: 'button', 'aria-pressed': String(r[0] === range), click: e => pick(r[0], e.target) }, r[1])))
const benches = el('div', { class: 'buttons names', role: 'group', 'aria-label': 'Which bench' })
const charts = el('div')
const lists = el('div')
const node = el('div', { class: 'wide' },
  el('section', { class: 'sheet', 'aria-labelledby': 'rc' }, el('h2', { id: 'rc' }, 'Over time'), choose, benches, charts),
  el('section', { class: 'sheet', 'aria-labelledby': 'rl' }, el('h2', { id: 'rl' }, 'What happened'), lists), messages)

function pick(value, button) {
  range = value
  press(choose, button)
  load()
}

function press(group, button) {
  for (const b of group.children) mark(b, 'aria-pressed', String(b === button))
}

async function load() {
  askForAlarms(line.status)
  const q = '?since=' + encodeURIComponent(range) + (bench ? '&bench=' + bench : '')
  try {
    const [s, l, t] = await Promise.all([get('series' + q), get('ledger' + q + '&limit=24'), get('trips' + q + '&limit=20')])
    series = within(s)
    floods = l.floods.reverse()
    trips = t.trips.reverse()
    draw()
  } catch (e) {
    if (!series) fill(charts, el('p', null, 'The record cannot be read now: ' + e.message + '.'))
  }
}

function show() {
  if (!line.all || !line.status) return
  const names = line.all.facts.benches.map(f => f.name)
  keyed(benches, names.length > 1 ? [''].concat(names) : [], all => all.map(n =>
    el('button', { type: 'button', 'aria-pressed': String(n === bench), click: e => { bench = n; press(benches, e.target); load() } }, n ? called.bench(n) : 'All')))
  showMessages(line.status)
  const last = line.status.messages.unacknowledged + '|' + line.status.benches.map(b => b.last && b.last.id + b.last.outcome) + '|' + line.all.trips.length + '|' + line.all.diary.length
  if (line.live && last !== asked) {
    asked = last
    load()
  }
}

function draw() {
  width = Math.max(240, charts.clientWidth || 320)
  fill(charts, runChart(), timeChart(), litreChart())
  fill(lists, el('h3', null, 'Stops and resets'), tripList(), el('h3', null, 'Floods'), floodTable(),
    el('p', null, el('a', { class: 'button', href: 'api/v1/export?table=floods&format=csv', download: 'floods.csv' }, 'All floods as a file')))
}

addEventListener('resize', () => {
  if (series && charts.clientWidth && Math.abs(charts.clientWidth - width) > 8) draw()
})

// within leaves out what came before the first day of a chart, or is to come.
function within(s) {
  const days = span(), seen = t => t >= days.from && t < days.to
  return Object.assign(s, { days: s.days.filter(d => seen(Date.parse(d.date))), floods: s.floods.filter(p => seen(local(p.at))), marks: s.marks.filter(m => seen(local(m.at))) })
}

// span is from the first day of a chart to the end of today.
function span() {
  const end = Date.parse(line.status.at.slice(0, 10)) + 864e5
  const days = parseInt(range, 10)
  return { from: end - days * 864e5, to: end, days }
}

const height = 132, left = 32, foot = 22, top = 14

// frame is the paper of a chart: the scale of values, the days, the marks.
function frame(most, label) {
  const s = span()
  const nice = [1, 2, 5, 10, 20, 30, 60, 100, 120, 200, 300, 500, 1000, 2000, 5000].filter(n => n * 1.001 >= most / 3)[0] || most
  const peak = Math.max(nice * Math.ceil(most / nice), nice)
  const x = t => left + (t - s.from) / (s.to - s.from) * (width - left - 4)
  const y = v => top + (1 - v / peak) * (height - top - foot)
  const node = svg('svg', { viewBox: '0 0 ' + width + ' ' + height, width, height, class: 'chart', role: 'img', 'aria-label': label })
  for (let v = 0; v <= peak; v += nice) {
    node.appendChild(svg('path', { class: 'hair', d: `M${left} ${y(v)}H${width}` }))
    node.appendChild(svg('text', { x: left - 5, y: y(v) + 4, 'text-anchor': 'end' }, String(v)))
  }
  const every = Math.ceil(s.days / Math.max(2, Math.floor(width / 90)))
  for (let i = Math.floor(every / 2); i < s.days; i += every) {
    const at = new Date(s.from + i * 864e5).toISOString()
    node.appendChild(svg('text', { x: x(s.from + (i + 0.5) * 864e5), y: height - 5, 'text-anchor': 'middle' }, shortDate(at).replace(/^(\d+ \w{3})\w*/, '$1')))
  }
  return { node, x, y, s }
}

// local is a stamp as a point on the axis of days.
const local = stamp => Date.parse(stamp.slice(0, 19) + 'Z')

function chart(title, text, f, head, rows) {
  return el('figure', { class: 'over' }, el('h3', null, title), f.node, el('figcaption', null, text),
    el('details', null, el('summary', null, 'The figures'), el('div', { class: 'scroll', tabindex: '0', role: 'region', 'aria-label': title },
      el('table', null, el('thead', null, el('tr', null, head.map(h => el('th', { scope: 'col' }, h)))), el('tbody', null, rows.map(r => el('tr', null, r.map(c => el('td', null, c)))))))))
}

function bars(f, days, of, kind) {
  const wide = Math.max(2, (f.x(864e5) - f.x(0)) * series.every_days - 2)
  for (const d of days) {
    const v = of(d), at = Date.parse(d.date)
    if (v) f.node.appendChild(svg('rect', { class: kind, x: f.x(at) + 1, y: f.y(v), width: wide, height: f.y(0) - f.y(v) }))
  }
}

const sum = all => all.reduce((n, v) => n + v, 0)
const per = () => series.every_days > 1 ? ' in ' + series.every_days + ' days' : ' a day'

function runChart() {
  const pumps = line.all.facts.benches.filter(b => !bench || b.name === bench).map(b => b.pump).filter((p, i, all) => all.indexOf(p) === i)
  const of = d => sum(pumps.map(p => (d.run_s[p] || 0) / 60))
  const all = series.days.map(of)
  const text = 'Minutes for which the flood pumps ran' + per() + ': ' + (all.length ? Math.round(sum(all) / all.length) + ' as a rule, ' + Math.round(Math.max.apply(null, all)) + ' at most.' : 'none.')
  const f = frame(Math.max.apply(null, all.concat(10)), text)
  bars(f, series.days, of, 'bar')
  return chart('Pump time, minutes', text, f, ['Day', 'Minutes', 'Floods'], series.days.map(d => [d.date, of(d).toFixed(1), Object.keys(d.floods).map(o => d.floods[o] + ' ' + o).join(', ')]))
}

function litreChart() {
  const added = {}
  for (const m of series.marks) if (m.kind === 'top-up' && m.value) added[m.at.slice(0, 10)] = (added[m.at.slice(0, 10)] || 0) + units.of(m.value)
  const all = series.days.map(d => units.of(d.litres)), unit = units.volume === 'gal' ? 'Gallons' : 'Litres'
  const text = unit + ' pumped onto the tables' + per() + ': ' + (all.length ? Math.round(sum(all) / all.length) + ' as a rule' : 'none') + '; most of it has drained back. Diamonds: ' + unit.toLowerCase() + ' that somebody topped up, ' + Math.round(sum(Object.keys(added).map(k => added[k]))) + ' in all.'
  const f = frame(Math.max.apply(null, all.concat(20, Object.keys(added).map(k => added[k]))), text)
  bars(f, series.days, d => units.of(d.litres), 'bar wetbar')
  for (const k of Object.keys(added)) f.node.appendChild(svg('path', { class: 'diamond', d: `M${f.x(Date.parse(k) + 432e5)} ${f.y(added[k]) - 5}l5 5l-5 5l-5 -5z` }))
  return chart(unit, text, f, ['Day', 'Pumped', 'Topped up'], series.days.map(d => [d.date, litres(d.litres), added[d.date] ? Math.round(added[d.date] * 10) / 10 + ' ' + units.volume : '']))
}

const shown = { cleaning: 'cleaned', transplanted: 'planted', sown: 'sown', 'solution-change': 'new solution' }

// name draws marks as uprights with their words, in the first of two rows that
// has room for them; where none has, a mark keeps its words to itself.
function name(f, marks) {
  const ends = [0, 0]
  for (const m of marks.sort((a, b) => a.at < b.at ? -1 : 1)) {
    const x = f.x(local(m.at)), words = shown[m.kind] + (m.kind === 'transplanted' || m.kind === 'sown' ? ' ' + called.batch(m.place) : '')
    const long = words.length * 7, start = x + 4 + long > width ? x - 4 - long : x + 4
    const row = ends.findIndex(end => end <= start)
    f.node.appendChild(svg('path', { class: 'upright', d: `M${x} ${top - 4}V${height - foot}` }))
    if (row < 0) continue
    ends[row] = start + long
    f.node.appendChild(svg('text', { x: start > x ? start : x - 4, y: top + 13 * row, 'text-anchor': start > x ? 'start' : 'end' }, words))
  }
}

function timeChart() {
  const points = series.floods.filter(p => p.fill_s || p.fall_s)
  const f = frame(Math.max.apply(null, points.map(p => Math.max(p.fill_s || 0, p.fall_s || 0) / 60).concat(2)), 'Minutes to fill and to fall, flood by flood')
  name(f, series.marks.filter(m => shown[m.kind]))
  const draw = (key, kind, shape) => {
    for (const name of line.all.facts.benches.map(b => b.name)) {
      const mine = points.filter(p => p.bench === name && p[key])
      if (mine.length > 1) f.node.appendChild(svg('path', { class: 'trace ' + kind, d: 'M' + mine.map(p => f.x(local(p.at)).toFixed(1) + ' ' + f.y(p[key] / 60).toFixed(1)).join('L') }))
      if (mine.length * 7 < width) mine.forEach(p => f.node.appendChild(svg('path', { class: 'point ' + kind, d: 'M' + f.x(local(p.at)).toFixed(1) + ' ' + f.y(p[key] / 60).toFixed(1) + shape })))
    }
  }
  draw('fill_s', 'fills', 'm-3 0a3 3 0 1 0 6 0a3 3 0 1 0 -6 0z')
  draw('fall_s', 'falls', 'm-3 -3h6v6h-6z')
  const cleaned = series.marks.filter(m => m.kind === 'cleaning').pop()
  const text = 'Rounds: from pump on until FULL is made. Squares: from pump off until FULL is clear. Filling that gets slower means a screen or a pump to look at; falling, a drain.' + (cleaned ? ' Last cleaned ' + when(cleaned.at, line.status.at) + '.' : ' No cleaning is on record in this time.')
  return chart('Filling and falling, minutes', text, f, ['Flood', 'Filled in', 'Fell in'], points.slice(-60).map(p => [shortDate(p.at) + ' ' + timeOf(p.at), p.fill_s ? clock(p.fill_s) : '', p.fall_s ? clock(p.fall_s) : '']))
}

const did = { tripped: 'The pump was stopped.', latched: 'The pump was stopped and stayed off until somebody reset it.', 'weld-proven': 'The enable relay stays open: a relay has welded.' }

function tripList() {
  if (!trips.length) return el('p', null, 'None in this time.')
  return el('ol', { class: 'list' }, trips.map(t => el('li', null, el('small', null, when(t.at, line.status.at) + (t.bench ? ', ' + called.bench(t.bench) : '')), ' ',
    t.act === 'reset' ? [el('b', null, 'Reset. '), 'Found: ' + t.detail + '.'] : [el('b', null, t.words + '. '), capital(t.detail) + '. ', did[t.act] || '', t.remedy && ' ' + t.remedy])))
}

function floodTable() {
  if (!floods.length) return el('p', null, 'None in this time.')
  return el('ol', { class: 'list' }, floods.filter(r => r.outcome).map(r => el('li', null, el('b', null, when(r.slot, line.status.at)), ' ', stamp(r.outcome), ' ',
    el('small', null, [line.all.facts.benches.length > 1 ? called.bench(r.bench) : '', r.cause === 'schedule' ? '' : 'by ' + r.cause, r.fill_s ? 'filled in ' + clock(r.fill_s) : '', r.fall_s ? 'fell in ' + clock(r.fall_s) : '',
      r.litres ? 'pumped ' + litres(r.pumped) + ', ' + litres(r.litres) + ' of it until FULL' : '', r.reason.replace(/(^|; )[a-z-]+: /g, '$1') || (r.outcome === 'proven' ? '' : means[r.outcome])].filter(t => t).join('; ')))))
}

show()
add('record', { node, show, shown: () => series && draw() })
