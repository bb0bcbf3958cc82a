// ui.mjs PROGRAM CHROMIUM OUT [PART...] drives the whole job in a real browser as
// the three people would. It fails on a console error, a request to anywhere
// else, a sheet that sticks out sideways, a target too small, and on what
// axe-core finds. Pictures of every sheet go to OUT as ui-*.png. Parts run in
// the order below on one server; each can do without those before it.
import { openBench } from './bench.mjs'

const sides = { // each on a server of its own, so that two run side by side
  one: ['first-port', 'straight', 'blink', 'recording', 'carry', 'upload-large', 'hand', 'keyboard', 'rework', 'photos', 'edit', 'session', 'wire', 'phone', 'voice', 'choose'],
  two: ['sheets', 'card', 'loss', 'check', 'crosscheck', 'apart'],
}
const all = [...sides.one, ...sides.two]
const timed = ['speed', 'paint'] // only by name: make bench

const [, , program, executablePath, out, ...asked] = process.argv
const some = asked.flatMap(n => sides[n] ?? [n])
for (const name of some) if (!all.concat(timed).includes(name)) throw new Error(`no part is called ${name}; there are ${all.concat(timed).join(', ')}`)

/** through runs parts on one server and gives what was found wrong, part by part. */
async function through(names) {
  const found = new Map()
  const b = await openBench(program, executablePath, out)
  for (const name of names) {
    b.faults.length = 0
    await (await import(`./parts/${name}.mjs`)).default(b).catch(e => b.faults.push(`${name}: ${e.stack}`))
    if (b.faults.length) found.set(name, [...new Set(b.faults)])
  }
  await b.close()
  return found
}

const wrong = await through(some.length ? all.concat(timed).filter(n => some.includes(n)) : all)
// A part that failed is tried once more, on a server of its own: a machine that
// stood still for a second is not a fault of the sheets. Both are told.
let well = true
for (const [name, faults] of wrong) {
  const again = (await through([name])).get(name) ?? []
  well &&= !again.length
  const tell = (list, when) => console.error(list.map(f => `ui: FAULT ${when}: ${f}`).join('\n'))
  tell(faults, again.length ? 'at first' : 'at first, not when tried again')
  if (again.length) tell(again, 'when tried again')
}
if (!well) process.exit(1)
console.log('ui: nothing wrong on any sheet' + (wrong.size ? `, but ${[...wrong.keys()].join(' and ')} had to be tried again` : ''))
