// The part of the sheet "Record" that is about being told: which alarms stand,
// and the acts about them.

import { actions } from './acts.js'
import { el, keyed } from './dom.js'
import { get } from './link.js'
import { called, capital, spaced, when } from './words.js'

let alarms = []

const by = { name: 'by', label: 'Your name (so that others know whom to ask)' }
const shelved = () => alarms.filter(a => a.state === 'shelved')
const ways = st => st.messages.ways || []
const standing = () => alarms.filter(a => a.state === 'unacknowledged' || a.state === 'acknowledged')
const options = list => list.map(a => [a.id, (a.bench ? called.bench(a.bench) + ', ' : '') + a.words + ', ' + a.state])

const acts = actions('What you can do about messages', [
  {
    label: 'Test message', path: 'test-message', there: (b, st) => ways(st).length > 0, verb: () => 'Send it', body: () => ({}),
    words: () => 'A message goes out by every way at once and asks for an answer. The code in it, entered here, shows that somebody reads them.',
  },
  {
    label: 'Answer a test', path: 'confirm', there: (b, st) => ways(st).length > 0, verb: () => 'It arrived', body: v => ({ code: v.code }),
    words: () => 'The day is noted on which a test message reached somebody.',
    fields: () => [{ name: 'code', label: 'The six digits in the message', required: true }],
  },
  {
    label: 'Keep silent', path: 'shelve', there: () => standing().length > 0, verb: () => 'Keep it silent', body: v => ({ alarm: +v.alarm, until: v.until, by: v.by }),
    words: () => 'It is not told again until then, and anew after that if it still stands. It resets nothing: the plants go on waiting.',
    fields: () => [{ name: 'alarm', label: 'Which alarm', options: options(standing()) },
      { name: 'until', label: 'For how long', options: [['1 h', '1 hour'], ['6 h', '6 hours'], ['24 h', 'a day']] }, by],
  },
  {
    label: 'Tell again', path: 'shelve', there: () => shelved().length > 0, verb: () => 'Tell of it again', body: v => ({ alarm: +v.alarm, until: '', by: v.by }),
    words: () => 'It is taken from the shelf and told of as if it were new.',
    fields: () => [{ name: 'alarm', label: 'Which alarm', options: options(shelved()) }, by],
  },
])

const list = el('div')
export const messages = el('section', { class: 'sheet', 'aria-labelledby': 'rm' }, el('h2', { id: 'rm' }, 'Alarms and messages'), list, acts.node)

// showMessages shows how messages fare; what was asked of alarms is laid beside.
export function showMessages(st) {
  acts.show(null, st)
  keyed(list, [alarms, ways(st), st.messages.last_confirmed, st.at.slice(0, 10)], () => [
    el('p', null, !ways(st).length ? 'The file names no way to tell anybody. What happens is on this page alone.'
      : 'By ' + ways(st).map(w => spaced(w.name)).join(', ') + '; ' + (st.messages.last_confirmed ? 'last confirmed ' + when(st.messages.last_confirmed, st.at) : 'nobody has confirmed one') + '.'),
    alarms.length ? el('ul', { class: 'list' }, alarms.map(a => el('li', null, el('b', null, capital(a.state) + ': '), a.text))) : el('p', null, 'No alarm stands.'),
  ])
}

// askForAlarms looks at them anew; who may not see them sees none.
export async function askForAlarms(st) {
  alarms = await get('alarms').then(a => a.alarms, () => [])
  if (st) showMessages(st)
}
