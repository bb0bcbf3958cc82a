// biglog.mjs MB FILE writes an invented recording of about so many MB, as a logger
// at 1 kHz leaves it that was forgotten: a pull, and a hold that loses 30 kPa to its
// end. It is the same file every time.
import { closeSync, openSync, writeSync } from 'node:fs'

/** Writes the file and gives its size in bytes. */
export function bigLog(path, mb) {
  const file = openSync(path, 'w')
  const rows = Math.round((mb * 1e6) / 16)
  let size = writeSync(file, '# invented, for tests\ntime (s),vacuum (kPa)\n')
  let text = []
  let dice = 1
  for (let i = 0; i < rows; i++) {
    const t = i / 1000
    dice = (dice * 48271) % 2147483647 // the same noise every time
    const noise = (dice / 2147483647 - 0.5) * 0.04
    const v = t < 5 ? 0 : t < 25 ? 76 * (1 - Math.exp(-(t - 5) / 2)) : 76 - (30 * (t - 25)) / (rows / 1000)
    text.push(`${t.toFixed(3)},${(v + noise).toFixed(3)}\n`)
    if (text.length === 50000 || i === rows - 1) {
      size += writeSync(file, text.join(''))
      text = []
    }
  }
  closeSync(file)
  return size
}

if (process.argv[1]?.endsWith('biglog.mjs')) {
  const [, , mb, path] = process.argv
  console.log(`${path}: ${bigLog(path, +mb)} bytes`)
}
