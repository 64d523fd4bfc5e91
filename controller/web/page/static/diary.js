// The sheet "Diary": what people did and read, in ten seconds of writing; and
// what they say of the batches.

import { add } from './main.js'
import { line, get } from './link.js'
import { el, fill, keyed } from './dom.js'
import { actions } from './acts.js'
import { called, capital, litres, longDate, noted, shortDate, timeOf, units, when } from './words.js'

const pairs = all => all.map(x => [x.name, called.place(x.name)])
const places = what => ({ name: 'place', label: { reservoirs: 'Reservoir', benches: 'Bench', batches: 'Batch' }[what], options: pairs(line.all.facts[what]) })
const text = label => ({ name: 'text', label })
const value = (label, step) => ({ name: 'value', label, type: 'number', step, required: true })
const us = () => units.volume === 'gal'
const volume = () => ({ name: 'value', label: us() ? 'Gallons' : 'Litres', required: true, hint: 'or with a unit, such as ' + (us() ? '2 qt' : '350 mL') })
const reading = () => ({ name: 'value', label: 'Reading', required: true })

// amount is a figure with its unit: a number alone has the one of the field.
const amount = (text, unit) => /[a-z°"']/i.test(text) ? text : text.trim().replace(',', '.') + ' ' + unit
const measured = kind => ({ 'top-up': units.volume, 'solution-change': units.volume, temperature: units.warm })[kind]
function valueOf(kind, text) {
  if (!text) return {}
  return measured(kind) ? { amount: amount(text, measured(kind)) } : { value: +text.replace(',', '.') }
}
const entry = (label, words, fields, kind) => ({
  label, path: 'diary', late: 'Writes it down', words: () => words, fields, verb: () => 'Write it down',
  body: v => Object.assign({ kind: kind || v.kind, place: v.place, text: v.text }, valueOf(kind || v.kind, v.value)),
})

const writing = actions('Write into the diary', [
  entry('Top-up', 'Water that you added. It tells how fast the reservoir empties.', () => [places('reservoirs'), volume(), text('With what')], 'top-up'),
  entry('Reading', 'What a meter or a thermometer showed.', () => [places('reservoirs'),
    { name: 'kind', label: 'Of what', options: [['ec', 'EC in mS/cm at 25 °C'], ['ph', 'pH'], ['temperature', 'temperature in °' + (units.warm)]] }, reading(), text('Remark')]),
  entry('Cleaning', 'What you cleaned. The times of filling and falling are compared from here on.', () => [places('benches'), text('What')], 'cleaning'),
  entry('New solution', 'The whole solution was changed.', () => [places('reservoirs'), volume(), text('Recipe')], 'solution-change'),
  entry('Pots', 'How the pots of a batch are, or how many there are of them.', () => [places('batches'),
    { name: 'kind', label: 'What', options: [['moisture', 'moisture from 1, bone dry, to 5, shining wet'], ['lost', 'pots lost'], ['moved-out', 'pots moved out'], ['germinated', 'pots germinated'], ['thinned', 'pots thinned'], ['resown', 'pots sown again']] },
    value('Number', '1'), text('Remark')]),
  entry('Note', 'Anything else.', () => [{ name: 'place', label: 'Where', options: [['', 'the whole site']].concat(pairs(line.all.facts.benches), pairs(line.all.facts.batches)) },
    { name: 'text', label: 'What', required: true }], 'note'),
])

// of is a batch's status.
const of = (name, st) => st.batches.filter(k => k.name === name)[0]

function batchDesk(k) {
  const batch = k.name, plants = called.batch(batch)
  const stands = (b, st) => of(batch, st).stage_from_day !== null
  return actions('What you can say of ' + plants, [
    {
      label: 'Next stage', path: 'advance', there: stands, verb: () => 'Advance ' + plants, body: () => ({ batch }),
      words: (b, st) => capital(plants) + ' is in its stage from day ' + of(batch, st).stage_from_day + '. From now on the next stage of its plan holds: its times, its hold, its strength. You can go back.',
    },
    {
      label: 'Close', path: 'close', there: (b, st) => !of(batch, st).closed, verb: () => 'Close ' + plants, body: () => ({ batch }),
      words: () => capital(plants) + ' has left its bench: nothing floods for it any more. You can take it back.',
    },
    {
      label: 'Open again', path: 'close', there: (b, st) => of(batch, st).closed, verb: () => 'Open ' + plants + ' again', body: () => ({ batch, reopen: true }),
      words: (b, st) => capital(plants) + ' was closed, last day ' + shortDate(of(batch, st).closed) + '. It stands on its bench again, and floods for it start by themselves.',
    },
  ])
}

function benchDesk(f) {
  const bench = f.name, place = called.bench(bench), by = { name: 'by', label: 'Your name' }
  return actions('What you can say of ' + place, [
    {
      label: 'Sanitise', path: 'sanitise', there: b => !b.sanitising_since, verb: () => 'Begin sanitising', fields: () => [by], body: v => ({ bench, by: v.by }),
      words: () => 'No flood starts by itself on any bench of the reservoir until you confirm that all is rinsed. Floods by hand may run, to bring sanitiser and rinsing water through. You are reminded every day.',
    },
    {
      label: 'All is rinsed', path: 'rinsed', there: b => b.sanitising_since, verb: () => 'Confirm: rinsed', fields: () => [by], body: v => ({ bench, by: v.by }),
      words: () => 'You have rinsed twice and thrown the water away. Floods start by themselves again; the next is a new baseline, so better watch it.',
    },
    {
      label: 'Bench is empty', path: 'empty', verb: () => 'Close all batches of ' + place, late: 'Closes the batches', body: () => ({ bench }),
      words: () => 'Every batch of ' + place + ' is closed, and it does not flood by itself. Each can be opened again.',
    },
  ])
}

const list = el('ol', { class: 'list' })
const crops = el('div')
const node = el('div', { class: 'wide' },
  el('section', { class: 'sheet', 'aria-labelledby': 'dw' }, el('h2', { id: 'dw' }, 'Write it down'), writing.node, el('h3', null, 'Written lately'), list),
  el('section', { class: 'sheet', 'aria-labelledby': 'db' }, el('h2', { id: 'db' }, 'Batches and benches'), crops))

let rows = [], seen = ''

// began is when plants were sown and came onto the bench.
const began = k => [k.sown && 'sown ' + shortDate(k.sown), k.sown !== k.transplanted && 'transplanted ' + shortDate(k.transplanted)].filter(Boolean).join(', ')

function show() {
  if (!line.all || !line.status) return
  const st = line.status, facts = line.all.facts
  writing.show(null, st)
  keyed(crops, [facts.batches, facts.benches], () => {
    rows = []
    const block = (title, note, d, b) => {
      rows.push({ d, b })
      return el('div', { class: 'block' }, el('h3', null, title), el('p', null, note), d.node)
    }
    return facts.batches.map(k => block(called.batch(k.name), k.pots + ' pots of ' + called.plan(k.plan) + ' on ' + called.bench(k.bench) + ', ' + began(k), batchDesk(k)))
      .concat(facts.benches.map((f, i) => block(called.bench(f.name), 'floods ' + litres(f.v_flood_l) + ' at most', benchDesk(f), i)))
  })
  rows.forEach(x => x.d.show(x.b === undefined ? null : st.benches[x.b], st))
  const newest = JSON.stringify(line.all.diary)
  if (newest !== seen && line.live) {
    seen = newest
    get('diary?limit=50').then(d => fill(list, entries(d.entries.reverse())), () => fill(list, entries(line.all.diary.slice().reverse())))
  }
}

function entries(all) {
  if (!all.length) return el('li', null, 'Nothing yet.')
  return all.map(d => el('li', null, el('small', null, line.status ? when(d.at, line.status.at) : longDate(d.at) + ' ' + timeOf(d.at)), ' ', el('b', null, noted(d)), d.text ? ' – ' + d.text : ''))
}

show()
add('diary', { node, show })
