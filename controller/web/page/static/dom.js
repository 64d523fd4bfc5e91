// Elements made by name. Text goes in as text, never as markup.

const drawing = 'http://www.w3.org/2000/svg'

function build(node, attributes, children) {
  for (const key of Object.keys(attributes || {})) {
    const value = attributes[key]
    if (value === null || value === undefined || value === false) continue
    if (typeof value === 'function') node.addEventListener(key, value)
    else node.setAttribute(key, value === true ? '' : value)
  }
  put(node, children)
  return node
}

export function el(name, attributes, ...children) {
  return build(document.createElement(name), attributes, children)
}

export function svg(name, attributes, ...children) {
  return build(document.createElementNS(drawing, name), attributes, children)
}

// put appends children: nodes, texts, lists of them, or nothing.
export function put(node, children) {
  for (const child of children) {
    if (child === null || child === undefined || child === false) continue
    if (Array.isArray(child)) put(node, child)
    else node.appendChild(child.nodeType ? child : document.createTextNode(child))
  }
}

// fill replaces what a node holds.
export function fill(node, ...children) {
  while (node.firstChild) node.removeChild(node.firstChild)
  put(node, children)
  return node
}

// say changes a text only when it differs, so that it is read out once.
export function say(node, text) {
  if (node.textContent !== text) node.textContent = text
}

// mark sets or takes an attribute.
export function mark(node, key, value) {
  if (value === null || value === false || value === undefined) node.removeAttribute(key)
  else if (node.getAttribute(key) !== String(value)) node.setAttribute(key, value)
}

// keyed redraws a node when what it shows has changed, and only then: focus and
// what a finger holds stay where they are.
export function keyed(node, value, draw) {
  const key = JSON.stringify(value)
  if (node.drawn === key) return
  node.drawn = key
  fill(node, draw(value))
}
