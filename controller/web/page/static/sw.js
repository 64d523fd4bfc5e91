// Keeps the page's own files for when the controller cannot be reached. What
// the controller says never comes from here: an old answer must not look new.
const shelf = 'page'
const files = ['/', 'page.css', 'sheets.css', 'main.js', 'dom.js', 'words.js', 'link.js', 'water.js', 'section.js', 'state.js', 'board.js', 'acts.js', 'record.js', 'messages.js', 'diary.js', 'us.js', 'icon.svg']
const patience = 3000 // ms before a kept file is as good as the network's

self.addEventListener('install', e => {
  self.skipWaiting()
  e.waitUntil(caches.open(shelf).then(c => c.addAll(files)))
})

self.addEventListener('activate', e => e.waitUntil(self.clients.claim()))

self.addEventListener('fetch', e => {
  const url = new URL(e.request.url)
  if (e.request.method !== 'GET' || url.origin !== location.origin) return
  const name = url.pathname === '/' ? '/' : url.pathname.slice(1)
  if (files.indexOf(name) >= 0) e.respondWith(newest(e.request, name))
})

async function newest(request, name) {
  const c = await caches.open(shelf)
  const kept = await c.match(name)
  const fresh = fetch(request).then(r => {
    if (r.ok) c.put(name, r.clone())
    return r
  })
  if (!kept) return fresh
  const late = new Promise(resolve => setTimeout(resolve, patience, kept))
  return Promise.race([fresh.catch(() => kept), late])
}
