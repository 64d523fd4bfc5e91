// Figures and moments as people say them. The controller's times carry the
// site's offset, and are shown as the clock on its wall would.

const minute = 60, hour = 3600, day = 86400

// parts are the figures in a stamp or a date, whatever zone the reader is in.
function parts(stamp) {
  const m = /^(\d+)-(\d+)-(\d+)(?:T(\d+):(\d+):(\d+))?/.exec(stamp)
  return { date: m[1] + '-' + m[2] + '-' + m[3], time: m[4] + ':' + m[5], second: m[6], at: new Date(Date.UTC(+m[1], m[2] - 1, +m[3])) }
}

const days = ['Sunday', 'Monday', 'Tuesday', 'Wednesday', 'Thursday', 'Friday', 'Saturday']
const months = ['January', 'February', 'March', 'April', 'May', 'June', 'July', 'August', 'September', 'October', 'November', 'December']

export const dateOf = stamp => parts(stamp).date
export const timeOf = stamp => parts(stamp).time
export const secondsOf = stamp => parts(stamp).time + ':' + parts(stamp).second

export function longDate(stamp) {
  const p = parts(stamp)
  return days[p.at.getUTCDay()] + ' ' + shortDate(stamp)
}

export function shortDate(stamp) {
  const p = parts(stamp)
  return p.at.getUTCDate() + ' ' + months[p.at.getUTCMonth()]
}

// dayFraction is how much of its day has gone by at a stamp.
export function dayFraction(stamp) {
  const t = timeOf(stamp).split(':')
  return (+t[0] + t[1] / 60) / 24
}

// seconds between two stamps.
export const between = (from, to) => (Date.parse(to) - Date.parse(from)) / 1000

// when says a stamp as seen from now: "08:30 today", "15:00 tomorrow".
export function when(stamp, now) {
  const n = Math.round((parts(stamp).at - parts(now).at) / 864e5)
  const t = timeOf(stamp)
  if (n === 0) return t + ' today'
  if (n === 1) return t + ' tomorrow'
  if (n === -1) return t + ' yesterday'
  if (n > -7 && n < 7) return t + ' on ' + days[parts(stamp).at.getUTCDay()]
  return t + ' on ' + shortDate(stamp)
}

const unit = (n, name) => n + ' ' + name

// span says a length of time in one or two units.
export function span(s) {
  s = Math.max(0, Math.round(s))
  if (s < minute) return unit(s, 's')
  if (s < hour) return two(s, minute, 'min', 1, 's')
  if (s < 2 * day) return two(s, hour, 'h', minute, 'min')
  return two(s, day, 'days', hour, 'h')
}

function two(s, big, bigName, small, smallName) {
  const rest = Math.floor((s % big) / small)
  const text = unit(Math.floor(s / big), bigName)
  return rest ? text + ' ' + unit(rest, smallName) : text
}

// rough says a length of time in one unit.
export function rough(s) {
  if (s < 90) return unit(Math.round(s), 's')
  if (s < 90 * minute) return unit(Math.round(s / minute), 'min')
  if (s < 2 * day) return unit(Math.round(s / hour), 'h')
  return unit(Math.round(s / day), 'days')
}

// clock says minutes and seconds as a stop watch shows them.
export function clock(s) {
  const r = Math.round(s)
  return Math.floor(r / 60) + ':' + ('0' + (r % 60)).slice(-2)
}

export const percent = share => Math.round(share * 100) + ' %'

// units say figures, which come in metric ones, as people of the site read them;
// us.js puts its own in their place.
export const figure = n => Math.round(n < 10 ? n * 10 : n) / (n < 10 ? 10 : 1)
export const units = {
  volume: 'L', high: 'mm', warm: 'C', of: l => l, litres: l => figure(l) + ' L', mm: v => Math.round(v), m: v => v / 1000 + ' m', c: v => v + ' °C',
}
export const litres = l => units.litres(l)
export const height = v => units.mm(v) + ' ' + units.high

export function capital(text) { return text.charAt(0).toUpperCase() + text.slice(1) }

// spaced is a name from the file as it is read: basil_spring is basil spring.
export const spaced = name => name.replace(/[_-]/g, ' ')

// titles are what people call the things of the file that have a title, by kind and
// name.
let titles = {}

// entitle takes them from the facts of the site.
export function entitle(facts) {
  titles = {}
  for (const kind of ['benches', 'reservoirs', 'batches']) {
    for (const x of facts[kind]) {
      titles[kind + x.name] = x.title
      titles['plans' + x.plan] = x.plan_title
    }
  }
}

// titled is a title, which keeps its place in a sentence whichever way it runs, or the
// name as it is read.
const titled = (...kinds) => name => {
  const title = kinds.map(k => titles[k + name]).find(t => t)
  return title ? '\u2068' + title + '\u2069' : spaced(name)
}

// called has what people call a thing.
export const called = { bench: titled('benches'), reservoir: titled('reservoirs'), batch: titled('batches'), plan: titled('plans'), place: titled('benches', 'reservoirs', 'batches') }

// valued is the value of an entry with its unit.
const valued = d => d.unit === 'L' ? litres(d.value) : d.unit === '°C' ? units.c(d.value) : d.value + (d.unit ? ' ' + d.unit : '')

// noted says an entry of the diary in short.
export function noted(d) {
  return ({ ec: 'EC', ph: 'pH' }[d.kind] || capital(spaced(d.kind))) + (d.value === null ? '' : ' ' + valued(d)) + (d.place ? ', ' + called.place(d.place) : '')
}
