// What a bench is at and who decides over it, in words.

import { called, capital, span, timeOf, when } from './words.js'

export const stateWords = { no: 'All in order', hands: 'Hands in', today: 'To do today', now: 'Go to the bench now', none: 'No contact with the controller', ask: 'Asking' }

// quiet is the sentence for when nobody is needed.
export function quiet(st) {
  const busy = st.benches.filter(b => b.phase !== 'rest')
  if (busy.length) return busy.map(b => capital(called.bench(b.name)) + ' ' + doing(b)).join('. ') + '.'
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
  return b.water === 'standing' ? 'is idle; water may still stand on it' : 'is idle, its table has drained'
}

// charge says who decides what happens on a bench, and what follows.
export function charge(b, st) {
  if (b.latched.length) return ['Locked', 'until you reset it']
  if (st.hands_in) return ['By hand', 'hands in: nothing starts']
  if (b.sanitising_since) return ['By hand', 'sanitising: nothing floods by itself until rinsed is confirmed']
  if (b.flood && b.flood.cause === 'hand') return ['By hand', 'this flood; it ends by itself']
  if (b.paused_until) return ['Paused', (b.paused_by ? 'by ' + b.paused_by + ' ' : '') + 'until ' + when(b.paused_until, st.at) + ', then it goes on by itself']
  if (b.refusal && b.refusal.interlock === 'attended') return ['By hand', b.refusal.detail]
  if (!st.clock_trusted) return ['Automatic', 'by elapsed time: the clock is not trusted']
  if (!b.next) return ['Automatic', 'no flood is planned']
  return ['Automatic', 'floods start by themselves']
}
