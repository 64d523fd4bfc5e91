// Figures as people read them where US units are at home.

import { figure, units } from './words.js'

const gallon = 3.785411784, inch = 25.4

// taped is a height in inches as a tape has it: in sixteenths, else in decimals.
function taped(mm) {
  const n = Math.round(mm / inch * 16), fine = mm < inch ? 100 : 10
  if (Math.abs(mm - n * inch / 16) > 0.002) return Math.round(mm / inch * fine) / fine
  let top = n % 16, bottom = 16
  while (top && top % 2 === 0) { top /= 2; bottom /= 2 }
  return (n >= 16 || !top ? Math.floor(n / 16) : '') + (n >= 16 && top ? ' ' : '') + (top ? top + '/' + bottom : '')
}

// long is the length of a table, in feet and half inches.
function long(mm) {
  const halves = Math.round(mm / inch * 2), feet = Math.floor(halves / 24), rest = halves % 24 / 2
  return [feet ? feet + ' ft' : '', rest ? rest + ' in' : ''].filter(Boolean).join(' ')
}

const volume = l => l / gallon

Object.assign(units, {
  volume: 'gal', high: 'in', warm: 'F', of: volume, mm: taped, m: long,
  litres: l => l > 0 && l < gallon / 2 ? Math.round(volume(l) * 128) + ' fl oz' : figure(volume(l)) + ' gal',
  c: v => Math.round(v * 1.8 + 32) + ' °F',
})
