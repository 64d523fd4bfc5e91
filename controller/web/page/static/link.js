// The line to the controller: pictures as they come, acts, and the plain word
// when nothing comes any more.

import { entitle } from './words.js'

const api = 'api/v1/'
const kept = 'benchtide' // where the browser keeps what it last saw
const oldAfter = 2400    // ms without a picture: it comes every second
const deadAfter = 8000   // ms without a picture before the line is laid anew
const retry = 2000
const settle = 400       // ms in which events share one look at the rest
const look = 60000       // ms after which the rest is looked at again

export const line = {
  all: null,      // the last overview
  status: null,   // the last picture, newer than that
  heard: 0,       // when it came, by this device's own clock
  since: 0,       // when the line was laid
  live: false,
  session: null,  // {needed, have}: whether the controller wants to know who acts
}

// What to do when an act may have come and no answer did: who stops reaches in next.
const reachIn = 'Not known whether it stopped: switch the supply off, dry-handed, before you reach in'
const lost = { stop: reachIn, 'hands-in': reachIn }

let watchers = [], stream = null, again = 0, soon = 0

export const onPicture = f => watchers.push(f)
let us // the script with US units, loaded where they are read

function show() {
  if (!us && line.status && line.status.units === 'us') {
    document.head.appendChild(us = Object.assign(document.createElement('script'), { type: 'module', src: 'us.js', onload: () => { us.there = true; show() } }))
  }
  if (!us || us.there) watchers.forEach(f => f())
}

// silence is how long, in seconds, nothing has been heard.
export const silence = () => (Date.now() - line.heard) / 1000

const problem = r => r.json().catch(() => ({ detail: 'the controller answered ' + r.status }))

export async function get(path) {
  const r = await within(deadAfter, fetch(api + path, { credentials: 'same-origin' }))
  if (r.status === 401) line.session = { needed: true, have: false }
  if (!r.ok) throw new Error((await problem(r)).detail)
  return r.json()
}

function within(ms, promise) {
  return Promise.race([promise, new Promise((_, no) => setTimeout(no, ms, new Error('the controller does not answer')))])
}

// act carries out what a person asked for. It answers {done}, or {refused}
// with the controller's own words; silent when nobody refused, but nobody
// answered.
export async function act(path, body, headers) {
  let r
  try {
    r = await within(deadAfter, fetch(api + path, {
      method: 'POST', credentials: 'same-origin', keepalive: true,
      headers: Object.assign({ 'Content-Type': 'application/json', 'X-Benchtide': 'act' }, headers), body: JSON.stringify(body),
    }))
  } catch (e) {
    return { silent: true, refused: lost[path] || 'Not known whether it was done: the controller does not answer. See how the bench stands before you ask again' }
  }
  if (r.status === 401) line.session = { needed: true, have: false }
  if (r.ok) {
    refresh()
    return r.json()
  }
  const p = await problem(r)
  return { refused: p.detail, silent: r.status > 500, unknown: r.status === 401, needs: p.needs, questions: p.questions }
}

// enter begins a session with the site's token.
export async function enter(token) {
  const r = await act('session', {}, { Authorization: 'Bearer ' + token })
  if (r.done) {
    line.session = { needed: true, have: true }
    hangUp()
  }
  return r
}

export function open() {
  recall()
  connect()
  setInterval(watch, 250)
  setInterval(refresh, look)
  document.addEventListener('visibilitychange', watch)
}

async function connect() {
  again = 0
  try {
    line.session = await get('session').catch(() => line.session)
    await overview()
  } catch (e) {
    lose()
    show()
    return later()
  }
  stream = new EventSource(api + 'events')
  line.since = Date.now()
  stream.addEventListener('status', e => picture(JSON.parse(e.data)))
  stream.addEventListener('event', e => {
    if (!/^(output|switch)$/.test(JSON.parse(e.data).kind)) refresh()
  })
  let opened = false
  stream.onopen = () => { opened = true }
  stream.onerror = () => opened ? hangUp() : askInstead()
}

async function overview() {
  line.all = await get('overview').catch(e => {
    if (line.session && !line.session.have) return unsigned()
    throw e
  })
  entitle(line.all.facts)
  picture(line.all.status)
}

// unsigned is what a site may leave open to who has not signed in.
async function unsigned() {
  const [facts, status, calendar, outlook] = await Promise.all(['benches', 'status', 'calendar?days=2', 'outlook?days=3'].map(get))
  return { facts, status, outlook, planned: calendar.floods, today: [], trips: [], diary: [] }
}

// refresh looks at all the rest again, shortly.
function refresh() {
  if (!soon && line.live) {
    soon = setTimeout(() => {
      soon = 0
      overview().catch(() => { /* the age above tells that nothing comes */ })
    }, settle)
  }
}

function hangUp() {
  if (stream) stream.close()
  stream = null
  lose()
  later()
}

// askInstead goes on without a stream that was refused, as it is where too many
// listen: what was asked for just now stays good until it is asked for again.
function askInstead() {
  stream.close()
  stream = null
  later()
}

function later() {
  if (!again) again = setTimeout(connect, retry)
}

function picture(status) {
  Object.assign(line, { status, heard: Date.now(), live: true })
  try {
    localStorage.setItem(kept, JSON.stringify({ all: line.all, status, heard: line.heard }))
  } catch (e) { /* a browser that keeps nothing shows nothing later */ }
  show()
}

function lose() {
  if (!line.live) return
  line.live = false
  show()
}

function watch() {
  const silent = Date.now() - Math.max(line.heard, line.since)
  if (line.live && silent > oldAfter) lose()
  if (stream && silent > deadAfter) hangUp()
}

// recall shows what was last seen, as old, until news come.
function recall() {
  try {
    const last = JSON.parse(localStorage.getItem(kept))
    if (last && last.status && last.all) {
      entitle(last.all.facts)
      Object.assign(line, last)
    }
  } catch (e) { /* what cannot be read is as good as nothing */ }
  show()
}
