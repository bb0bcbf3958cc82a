// ui.mjs PROGRAM CHROMIUM OUT [PART...] drives the whole job in a real browser as
// the three people would. It fails on a console error, a request to anywhere
// else, a sheet that sticks out sideways, a target too small, and on what
// axe-core finds. Pictures of every sheet go to OUT as ui-*.png. Parts run in
// the order below on one server; a part that leans on an earlier one says so.
import { openBench } from './bench.mjs'

const sides = { // each on a server of its own, so that two run side by side
  one: ['first-port', 'straight', 'blink', 'recording', 'carry', 'upload-large', 'hand', 'keyboard', 'rework', 'photos', 'edit', 'session', 'wire', 'phone', 'voice', 'choose'],
  two: ['sheets', 'card', 'check'],
}
const all = [...sides.one, ...sides.two]
const timed = ['speed', 'paint'] // only by name: make bench

const [, , program, executablePath, out, ...asked] = process.argv
const some = asked.flatMap(n => sides[n] ?? [n])
for (const name of some) if (!all.concat(timed).includes(name)) throw new Error(`no part is called ${name}; there are ${all.concat(timed).join(', ')}`)
const b = await openBench(program, executablePath, out)
for (const name of some.length ? all.concat(timed).filter(n => some.includes(n)) : all) await (await import(`./parts/${name}.mjs`)).default(b)
await b.close()
if (b.faults.length) {
  console.error([...new Set(b.faults)].map(f => 'ui: ' + f).join('\n'))
  process.exit(1)
}
b.say('nothing wrong on any sheet')
