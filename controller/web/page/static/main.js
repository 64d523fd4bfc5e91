// Puts the page together: three sheets, the age of what they show, and the title
// block that every drawing has.

import { el, fill, mark, say, keyed } from './dom.js'
import { enter, line, onPicture, open, silence } from './link.js'
import { board } from './board.js'
import { longDate, rough, secondsOf, when } from './words.js'

const main = document.getElementById('main')
const age = document.getElementById('age')
const names = { now: 'Now', record: 'Record', diary: 'Diary' }
const sheets = { now: board() }
const asked = {}

// add takes a sheet whose script came later: a glance loads only the first.
export function add(name, sheet) {
  sheets[name] = sheet
  turn()
}

// want loads a file once.
function want(name, node) {
  if (!asked[name]) document.head.appendChild(asked[name] = node)
}

let waiting = true // for the first picture: no sheet has anything to show

function turn() {
  const name = names[location.hash.slice(1)] ? location.hash.slice(1) : 'now'
  if (name !== 'now') want('sheets', el('link', { rel: 'stylesheet', href: 'sheets.css' }))
  if (!sheets[name]) want(name, el('script', { type: 'module', src: name + '.js' }))
  if (!sheets[name]) return
  for (const a of document.querySelectorAll('nav a')) mark(a, 'aria-current', a.hash === '#' + name ? 'page' : null)
  const sheet = waiting ? sheets.now : sheets[name]
  if (main.firstChild !== sheet.node) fill(main, sheet.node)
  document.title = (line.all ? line.all.facts.site + ', ' : '') + names[name].toLowerCase()
  if (sheet.shown) sheet.shown()
}

// tell says how old the picture is; once it is old, in words that nobody takes
// for the present.
function tell() {
  const root = document.documentElement
  mark(root, 'data-line', line.live ? 'live' : line.status ? 'old' : 'none')
  if (!line.status) return say(age, door.hidden ? 'Asking the controller …' : 'Not logged in')
  if (line.live) return say(age, 'Live · ' + secondsOf(line.status.at))
  say(age, 'OLD · nothing heard for ' + rough(silence()) + ' · this was ' + secondsOf(line.status.at))
}

function block() {
  if (!line.all || !line.status) return
  const st = line.status
  keyed(document.getElementById('titleblock'), [line.all.facts, longDate(st.at), st.clock_trusted, st.plan, st.record.kept, st.outputs, st.messages], () => el('dl', null,
    cell('Site', line.all.facts.site), cell('Date', longDate(st.at)),
    cell('Clock', st.clock_trusted ? 'trusted' : 'not trusted'), cell('Floods follow', st.plan === 'calendar' ? 'the calendar' : 'elapsed time'),
    cell('Record', st.record.kept ? 'kept' : 'not saved: lost at a restart'), cell('Outputs', st.outputs.map(o => o.name.replace(/_/g, ' ') + (o.on ? ' on' : ' off')).join(', ')),
    st.messages.ways && st.messages.ways.length ? cell('Messages', st.messages.last_confirmed ? 'last confirmed ' + when(st.messages.last_confirmed, st.at) : 'nobody has confirmed one') : null,
    cell('Program', 'benchtide ' + line.all.facts.version)))
}

// door is where a person from another machine shows the site's token.
const key = el('input', { id: 'key', type: 'password', autocomplete: 'current-password', required: true })
const no = el('p', { class: 'wrong', role: 'alert' })
const door = el('form', {
  class: 'sheet door', hidden: true, 'aria-labelledby': 'enter', submit: async e => {
    e.preventDefault()
    const r = await enter(key.value)
    say(no, r.refused || '')
    key.value = ''
  },
}, el('h2', { id: 'enter' }, 'Log in'), el('p', null, 'To act here, or to see everything, show the token of this site. It is in the file that the controller was started with.'),
el('div', { class: 'field' }, el('label', { for: 'key' }, 'Token'), key), no, el('div', { class: 'buttons' }, el('button', { class: 'do' }, 'Log in')))
document.body.insertBefore(door, main)

const cell = (name, value) => el('div', null, el('dt', null, name), el('dd', null, value))

addEventListener('hashchange', () => {
  turn()
  main.focus()
})
onPicture(() => {
  if (line.all) say(document.getElementById('site'), line.all.facts.site)
  Object.keys(sheets).forEach(name => sheets[name].show())
  door.hidden = !line.session || line.session.have
  sheets.now.node.hidden = !line.status && !door.hidden
  if (waiting && line.status) {
    waiting = false
    turn()
  }
  tell()
  block()
})
setInterval(tell, 500)
turn()
open()

// The worker keeps all files for later, once the first picture has come.
const later = 4000
if ('serviceWorker' in navigator) setTimeout(() => navigator.serviceWorker.register('sw.js').catch(() => { /* the page then needs the controller to open */ }), later)
