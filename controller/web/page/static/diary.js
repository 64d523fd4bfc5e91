import { el } from './dom.js'
import { add } from './main.js'

add('diary', { node: el('section', { class: 'sheet' }, el('h2', null, 'Diary')), show() {} })
