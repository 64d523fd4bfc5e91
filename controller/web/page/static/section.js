// The section of a bench, drawn as an engineer would: cut lengthways, to the
// measures of the file, heights enlarged so that millimetres can be seen.

import { svg, fill, mark, say } from './dom.js'
import { called, height, litres, units } from './words.js'
import { waterOf } from './water.js'

const least = 62      // px beside the table, for measures, at least
const letter = 6.6    // px of a letter of a measure
const over = 40       // px above the rim, for the pots
const under = 44      // px between table and reservoir
const tank = 74       // px of reservoir
const wall = 5
const enlarged = [1, 2, 4, 5, 8, 10, 12, 15, 20, 25, 30, 40]

let drawn = 0

const line = (look, d) => svg('path', { class: look, d })

// section draws bench facts f with its reservoir r and batches k at a width in
// px. What it returns takes each new picture.
export function section(f, r, batches, width) {
  const g = measure(f, width)
  g.id = 's' + drawn++
  const view = { f, r, g, parts: {} }
  const p = view.parts
  view.node = svg('svg', { viewBox: '0 0 ' + width + ' ' + g.height, width, height: g.height, role: 'img', class: 'section' },
    p.title = svg('title', { id: g.id + 't' }),
    definitions(g), reservoir(view), pipes(view), table(view), water(view), pots(view, batches), standpipe(view), switches(view), measures(view))
  mark(view.node, 'aria-labelledby', g.id + 't')
  view.scale = g.times
  view.show = (b, res, outputs, now) => show(view, b, res, outputs, now)
  return view
}

function measure(f, width) {
  const longest = Math.max(...[f.high_at_mm, f.full_at_mm, f.crest_mm].map(mm => ('crest ' + units.mm(mm || 0)).length))
  const side = Math.max(least, longest * letter + wall + 6)
  const inside = width - 2 * side
  const along = inside / f.length_mm
  const aim = Math.max(80, Math.min(150, inside * 0.4))
  const times = enlarged.reduce((best, n) => Math.abs(n * along * f.rim_mm - aim) < Math.abs(best * along * f.rim_mm - aim) ? n : best)
  const up = along * times
  const floor = over + f.rim_mm * up
  const g = { width, left: side, right: width - side, inside, along, up, times, floor, rim: over, tankTop: floor + under, height: floor + under + tank + 8 }
  g.y = h => floor - h * up
  g.inlet = g.left + inside * 0.07
  g.pipe = g.right - inside * 0.09
  g.bore = Math.max(6, Math.min(14, f.standpipe_bore_mm * along || 6))
  return g
}

function definitions(g) {
  return svg('defs', null,
    svg('pattern', { id: g.id + 'h', width: 6, height: 6, patternUnits: 'userSpaceOnUse', patternTransform: 'rotate(45)' },
      svg('rect', { width: 6, height: 6, class: 'solid' }), svg('path', { d: 'M0 0V6', class: 'hatch' })),
    svg('pattern', { id: g.id + 'w', width: 22, height: 12, patternUnits: 'userSpaceOnUse' },
      svg('rect', { width: 22, height: 12, class: 'wet' }), svg('path', { d: 'M2 3h9M13 9h7', class: 'ripple' })),
    svg('clipPath', { id: g.id + 'c' }, svg('rect', { x: g.left, y: 0, width: g.inside, height: g.floor })),
    svg('clipPath', { id: g.id + 'r' }, svg('rect', { x: g.left + 10, y: g.tankTop, width: g.inside - 20, height: tank - 4 })))
}

function table(v) {
  const g = v.g
  const a = g.left, b = g.right, t = g.rim, f = g.floor
  return svg('g', null,
    svg('path', { class: 'cut', fill: 'url(#' + g.id + 'h)', d: `M${a - wall} ${t}H${a}V${f}H${b}V${t}H${b + wall}V${f + wall}H${a - wall}Z` }),
    line('leg', `M${a + 2} ${f + wall}V${g.height - 4}M${b - 2} ${f + wall}V${g.height - 4}`))
}

// water lies at the table's floor and is pushed up by its depth.
function water(v) {
  const g = v.g, p = v.parts, x = g.right - g.inside * 0.035
  p.water = svg('g', { class: 'level' },
    svg('rect', { x: g.left, y: g.floor, width: g.inside, height: g.floor, fill: 'url(#' + g.id + 'w)' }),
    p.surface = line('surface', `M${g.left} ${g.floor}H${g.right}`))
  p.proven = line('surface proven', `M${g.left} 0H${g.right}`)
  p.sign = line('sign level', `M${x - 5} ${g.floor - 9}h10l-5 8z`)
  return svg('g', null, svg('g', { 'clip-path': 'url(#' + g.id + 'c)' }, p.water), p.proven, p.sign)
}

function pots(v, batches) {
  const g = v.g, f = v.f
  const all = batches.reduce((n, k) => n + k.pots, 0)
  if (!all) return null
  const wide = (batches[0].pot_top_mm || 90) * g.along
  const from = g.left + g.inside * 0.13, room = g.inside * 0.7
  const n = Math.max(1, Math.min(Math.round(Math.sqrt(all * f.length_mm / f.width_mm)), Math.floor(room / (wide + 2))))
  const step = room / n, top = g.rim - 12
  const node = svg('g', { class: 'pots' })
  for (let i = 0; i < n; i++) {
    const x = from + step * (i + 0.5)
    node.appendChild(line('pot', `M${x - wide / 2} ${top}L${x - wide * 0.36} ${g.floor}H${x + wide * 0.36}L${x + wide / 2} ${top}Z`))
    node.appendChild(line('plant', `M${x} ${top}v-9m0 3q-7 -1 -7 -9q6 1 7 9q1 -8 7 -9q0 8 -7 9`))
  }
  return node
}

function standpipe(v) {
  const g = v.g, x = g.pipe, w = g.bore / 2, top = g.y(v.f.crest_mm), foot = g.tankTop + 12
  return svg('g', null,
    line('tube', `M${x - w} ${top}V${foot}H${x + w}V${top}`),
    v.parts.overflow = line('flow down', `M${x} ${top}V${foot}`))
}

function pipes(v) {
  const g = v.g, x = g.inlet, y = g.tankTop + tank - 22
  v.parts.pump = svg('g', { class: 'pump' },
    svg('circle', { cx: x + 16, cy: y, r: 11 }), svg('path', { d: `M${x + 9} ${y + 7}L${x + 16} ${y - 10}L${x + 23} ${y + 7}` }))
  return svg('g', null,
    line('tube', `M${x + 13} ${y - 8}V${g.floor}M${x + 19} ${y - 8}V${g.floor}`),
    v.parts.supply = line('flow', `M${x + 16} ${y - 10}V${g.floor}`),
    v.parts.pump,
    v.parts.pumpText = svg('text', { class: 'note', x: x + 34, y: y + 5 }))
}

function reservoir(v) {
  const g = v.g, a = g.left + 10, b = g.right - 10, top = g.tankTop, foot = top + tank - 4
  return svg('g', null,
    svg('g', { 'clip-path': 'url(#' + g.id + 'r)' },
      v.parts.store = svg('rect', { class: 'level', x: a, y: foot, width: b - a, height: tank, fill: 'url(#' + g.id + 'w)' })),
    svg('path', { class: 'cut', fill: 'url(#' + g.id + 'h)', d: `M${a - 4} ${top}H${a}V${foot}H${b}V${top}H${b + 4}V${foot + 4}H${a - 4}Z` }),
    v.parts.storeText = svg('text', { class: 'note', x: g.pipe - g.bore / 2 - 6, y: top + 16, 'text-anchor': 'end' }))
}

function switches(v) {
  const g = v.g
  const one = (key, at, name, state) => {
    if (!at) return null
    const y = g.y(at), x = g.left + 9
    const s = v.parts[key] = {
      ball: svg('circle', { class: 'float', cx: x, cy: y, r: 5 }),
      text: svg('text', { class: 'note', x: g.left - wall - 4, y: y + state, 'text-anchor': 'end' }),
    }
    return svg('g', null,
      line('hair', `M4 ${y}H${x}`), s.ball,
      svg('text', { class: 'label', x: g.left - wall - 4, y: y + name, 'text-anchor': 'end' }, key.toUpperCase() + ' ' + units.mm(at)), s.text)
  }
  return svg('g', null, one('high', v.f.high_at_mm, -3, -16), one('full', v.f.full_at_mm, 12, 25), one('empty', v.f.empty_at_mm, 12, 25))
}

function measures(v) {
  const g = v.g, f = v.f, x = g.right + wall + 4
  const one = (name, at, from) => {
    const y = g.y(at)
    return [line('hair', `M${from} ${y}H${g.width - 2}`),
      svg('text', { class: 'label', x: g.width - 2, y: y - 3, 'text-anchor': 'end' }, name + ' ' + units.mm(at))]
  }
  return svg('g', null,
    one('rim', f.rim_mm, x - 4), one('crest', f.crest_mm, g.pipe + g.bore / 2),
    line('hair', `M${x} ${g.floor}H${g.width - 2}`),
    svg('text', { class: 'label', x: g.width - 2, y: g.floor - 3, 'text-anchor': 'end' }, units.high))
}

const seen = { wet: 'water', dry: 'dry', fault: 'fault' }

function show(v, b, res, outputs, now) {
  const g = v.g, p = v.parts, w = waterOf(b, v.f, now)
  const pump = outputs.some(o => o.name === v.f.pump && o.on)
  const depth = Math.min(w.depth, v.f.rim_mm + 2) * g.up
  lift(p.water, depth)
  lift(p.sign, depth)
  mark(p.sign, 'data-none', w.depth < 1)
  mark(p.proven, 'data-none', !w.least)
  mark(p.proven, 'transform', 'translate(0 ' + g.y(w.least || 0) + ')')
  mark(p.water, 'data-none', w.depth < 0.5)
  for (const key of ['high', 'full', 'empty']) {
    if (!p[key]) continue
    mark(p[key].ball, 'data-is', b.switches[key])
    say(p[key].text, seen[b.switches[key]] || b.switches[key])
  }
  mark(p.pump, 'data-on', pump)
  say(p.pumpText, pump ? 'pump runs' : 'pump off')
  const home = b.phase === 'draining' && v.f.drains_through_pump
  mark(p.supply, 'class', pump ? 'flow up' : home ? 'flow down' : 'flow still')
  mark(p.overflow, 'class', pump && w.depth >= v.f.crest_mm - 1 ? 'flow down' : 'flow still')
  const share = res && (res.litres || res.basis !== 'unknown') ? Math.max(0.04, Math.min(1, res.litres / v.r.usable_l)) : 0
  lift(p.store, share * (tank - 10))
  mark(p.store, 'data-is', res ? res.basis : 'unknown')
  say(p.storeText, res ? stored(res) : '')
  say(p.title, 'Section of ' + called.bench(v.f.name) + '. ' + depthText(w) + ' ' + (pump ? 'The pump runs.' : 'The pump is off.'))
}

// stored is what a reservoir holds.
function stored(r) {
  if (r.basis === 'unknown') return r.litres ? 'at least ' + litres(r.litres) : 'not known'
  return (r.basis === 'expected' ? 'expected ' : '') + litres(r.litres)
}

// depthText keeps apart what is believed and what is proven.
export function depthText(w) {
  const bare = w.depth < 0.5
  if (w.bare) return 'The table has drained. Proven: ' + w.proof + '.'
  return (bare ? 'The table has probably drained.' : 'Water, expected ' + height(w.depth) + ' deep.') + (w.proof ? ' Proven: ' + w.proof + '.' : ' No switch shows where it is.')
}

function lift(node, px) { node.style.transform = 'translateY(' + -px.toFixed(1) + 'px)' }
