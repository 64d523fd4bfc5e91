// What a bench is at and who decides over it, in words.

import { capital, span, timeOf, when } from './words.js'

export const stateWords = { no: 'All in order', today: 'See to it today', now: 'Come now', none: 'No word', ask: 'Asking' }

// quiet is the sentence for when nobody is needed.
export function quiet(st) {
  const busy = st.benches.filter(b => b.phase !== 'rest')
  if (busy.length) return busy.map(b => capital(b.name) + ' ' + doing(b)).join('. ') + '.'
  const next = st.benches.map(b => b.next).filter(n => n).sort((x, y) => Date.parse(x.due) - Date.parse(y.due))[0]
  return 'Nothing to do. ' + (next ? 'Next flood ' + when(next.due, st.at) + '.' : 'No flood is planned.')
}

// doing says what a bench is at.
export function doing(b) {
  const since = b.flood && b.flood.started ? ' since ' + timeOf(b.flood.started) : ''
  switch (b.phase) {
    case 'recording': return 'is about to flood'
    case 'filling': return 'is filling' + since
    case 'holding': return 'stands in water; it filled in ' + span(b.flood.fill_s || 0)
    case 'draining': return 'is draining; the pump has stopped'
  }
  return b.water === 'standing' ? 'rests; water may still stand on it' : 'rests, its table is bare'
}

// charge says who decides what happens on a bench, and what follows.
export function charge(b, st) {
  if (b.latched.length) return ['Nobody', 'stopped until you reset it']
  if (st.hands_in) return ['You', 'hands in: nothing starts']
  if (b.sanitising_since) return ['You', 'sanitising: nothing floods by itself until rinsed is confirmed']
  if (b.flood && b.flood.cause === 'hand') return ['You', 'a flood by hand; it ends by itself']
  if (b.paused_until) return [b.paused_by ? capital(b.paused_by) : 'You', 'paused until ' + when(b.paused_until, st.at) + ', then it goes on by itself']
  if (b.refusal && b.refusal.interlock === 'attended') return ['You', b.refusal.detail]
  if (!st.clock_trusted) return ['Elapsed time', 'the clock is not trusted']
  if (!b.next) return ['The schedule', 'no flood is planned']
  return ['The schedule', 'floods start by themselves']
}
