import { el } from './dom.js'
import { add } from './main.js'

add('record', { node: el('section', { class: 'sheet' }, el('h2', null, 'Record')), show() {} })
