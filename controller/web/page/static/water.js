// Where the water on a bench is: what its switches prove, and between them what
// the controller's own times make believed.

import { between, height } from './words.js'

// waterOf answers the depth in mm as believed, and what is proven.
export function waterOf(b, f, now) {
  return Object.assign({ depth: Math.max(0, held(believed(b, f, now), b.switches, f)) }, proofOf(b, f))
}

// proofOf says what switches show: least is the depth that is proven.
function proofOf(b, f) {
  const s = b.switches
  if (s.high === 'wet' && f.high_at_mm) return { proof: 'HIGH shows at least ' + height(f.high_at_mm), least: f.high_at_mm }
  if (s.full === 'wet' && f.full_at_mm) return { proof: 'FULL shows at least ' + height(f.full_at_mm), least: f.full_at_mm }
  if (s.empty === 'dry') return { proof: 'EMPTY shows no water', bare: true }
  if (s.empty === 'wet') return { proof: 'EMPTY shows water on the table', least: f.empty_at_mm }
  if (s.full === 'dry') return { proof: 'FULL shows less than ' + height(f.full_at_mm) }
  return { proof: '' }
}

// believed is the depth by the times of the bench sheet alone.
function believed(b, f, now) {
  const full = f.full_at_mm || f.crest_mm
  const since = sinceOf(b, now)
  switch (b.phase) {
    case 'filling': return full * Math.min(1, since / f.t_fill_s)
    case 'holding': return Math.min(f.crest_mm, full * (1 + since / f.t_fill_s))
    case 'draining': return falling(since, f, full)
  }
  return b.water === 'standing' ? full / 2 : 0
}

// sinceOf is how long, in seconds, a bench has been at what it is at.
function sinceOf(b, now) {
  if (b.phase_since) return Math.max(0, between(b.phase_since, now))
  if (!b.flood || !b.flood.started) return 0
  const run = between(b.flood.started, now)
  return Math.max(0, b.phase === 'filling' ? run : run - (b.flood.fill_s || 0))
}

function falling(since, f, full) {
  if (since < f.t_fall_s) return f.crest_mm - (f.crest_mm - full) * since / f.t_fall_s
  return full * (1 - Math.min(1, (since - f.t_fall_s) / Math.max(1, f.t_drain_s - f.t_fall_s)))
}

// held keeps a belief on the side of a switch on which the switch has it.
function held(depth, s, f) {
  if (s.high === 'wet' && f.high_at_mm) return Math.max(depth, f.high_at_mm)
  if (s.full === 'wet' && f.full_at_mm) return Math.max(depth, f.full_at_mm)
  if (s.empty === 'dry') return 0
  if (s.full === 'dry' && f.full_at_mm) return Math.min(depth, f.full_at_mm - 1)
  return depth
}
