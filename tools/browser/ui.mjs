// ui.mjs PROGRAM CHROMIUM OUT drives the whole job in a real browser as the home
// builder would: from the first start to the first judged port, by keyboard, and
// then every sheet at every size. It fails on a console error, a request to
// anywhere else, a sheet that sticks out sideways, a target too small, and on
// what axe-core finds. Pictures of every sheet go to OUT as ui-*.png.
import { chromium } from 'playwright-core'
import { spawn } from 'node:child_process'
import { readFileSync, mkdtempSync, mkdirSync, rmSync } from 'node:fs'
import { createRequire } from 'node:module'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

const [, , program, executablePath, out] = process.argv
const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')
mkdirSync(out, { recursive: true })
const data = mkdtempSync(join(tmpdir(), 'seatproof-ui-'))
const faults = []
const say = what => console.log('ui: ' + what)

function start(extra) {
  const p = spawn(program, ['serve', '--listen', '127.0.0.1:0', '--data', data, ...extra], { stdio: ['ignore', 'pipe', 'inherit'] })
  return new Promise((good, bad) => {
    let text = ''
    p.stdout.on('data', d => {
      text += d
      const m = text.match(/http:\/\/\S+\//)
      if (m) good({ process: p, base: m[0] })
    })
    p.on('exit', code => bad(new Error('the server ended with ' + code)))
  })
}
const stop = s => new Promise(done => {
  s.process.removeAllListeners('exit')
  s.process.on('exit', code => done(code))
  s.process.kill('SIGTERM')
})

let server = await start([])
const browser = await chromium.launch({ executablePath, args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--disable-background-networking', '--disable-component-update', '--disable-sync'] })

async function tab(width, height, colorScheme) {
  const t = await browser.newPage({ viewport: { width, height }, colorScheme })
  const name = () => `${width} px, ${colorScheme}, ${new URL(t.url()).hash}`
  t.expected = []
  t.on('console', m => { if (['error', 'warning'].includes(m.type()) && !t.expected.some(e => m.text().includes(e))) faults.push(`${name()}: console: ${m.text()}`) })
  t.on('pageerror', e => faults.push(`${name()}: script: ${e}`))
  t.on('request', r => { if (!r.url().startsWith(server.base) && !r.url().startsWith('data:') && !r.url().startsWith('blob:')) faults.push(`${name()}: asks for ${r.url()}`) })
  return t
}
const must = (ok, what) => {
  if (!ok) faults.push(what)
}

// 1. The first port, on a phone, from nothing; the clock of the page runs fast.
const phone = await tab(390, 844, 'light')
phone.expected.push('422') // figures are questioned on purpose
await phone.clock.install()
const began = Date.now()
let steps = 0
const tap = async (what) => { steps++; await phone.locator(what).first().click() }
await phone.goto(server.base)
await phone.waitForSelector('text=No head booked in yet.')
await phone.screenshot({ path: join(out, 'ui-empty-390-light.png') })
await tap('text=Book in the first head')
await phone.fill('#f-number', 'T-1')
await phone.fill('#f-layout-bore', '34')
await phone.fill('#f-layout-intake_head', '40')
await phone.clock.runFor(1000)
await phone.waitForSelector('.fault')
must((await phone.locator('.fault').allTextContents()).some(t => t.includes('40')), 'a 40 mm valve in a 34 mm bore is not questioned at its field: ' + await phone.locator('.fault').allTextContents())
await phone.screenshot({ path: join(out, 'ui-fault-390-light.png'), fullPage: true })
await phone.fill('#f-layout-bore', '72')
await phone.fill('#f-layout-intake_head', '')
await phone.reload() // what was typed is kept
await phone.waitForSelector('#f-number')
must(await phone.inputValue('#f-number') === 'T-1', 'a form forgot what was typed when the page was loaded again')
steps += 3
await tap('button:has-text("Book it in")')
await phone.waitForSelector('text=No port tested yet.')
await tap('.next .first a.button')
await phone.waitForSelector('text=How should the count be called?')
await tap('label:has-text("on the screen only")')
await phone.screenshot({ path: join(out, 'ui-count-ready-390-light.png') })
await phone.keyboard.press('Enter') // the pedal
steps++
await phone.waitForSelector('.counting')
await phone.clock.runFor(9000)
await phone.waitForSelector('text=valve shut, hands off')
await phone.clock.runFor(5000)
await phone.screenshot({ path: join(out, 'ui-count-hold-390-light.png') })
await phone.clock.runFor(11000)
await phone.waitForSelector('text=When the pump was shut off')
await phone.fill('.needle >> nth=0 >> input', '21½')
await phone.fill('.needle >> nth=1 >> input', 'twenty')
await tap('button:has-text("File it")')
await phone.waitForSelector('.fault')
must(await phone.inputValue('.needle >> nth=1 >> input') === 'twenty', 'what was typed is lost when it is wrong')
phone.expected.push('422')
await phone.fill('.needle >> nth=1 >> input', '21¼')
must((await phone.textContent('.lostwords')).includes('¼ inHg'), 'the loss is not told in quarters: ' + await phone.textContent('.lostwords'))
await phone.screenshot({ path: join(out, 'ui-count-typed-390-light.png') })
steps += 2
await phone.locator('.needle >> nth=1 >> input').press('Enter')
steps++
await phone.waitForSelector('.filed')
const verdict = await phone.textContent('.verdictword')
must(/holds|leaks|can.t tell yet/.test(verdict), 'no verdict after the first count: ' + verdict)
await phone.screenshot({ path: join(out, 'ui-count-filed-390-light.png') })
say(`first port: "${verdict}" after ${steps} steps and 24 s of counting (${Date.now() - began} ms of machine time)`)

// 2. A second tab sees a change at once; a server that blinks loses nothing.
const id = (await (await fetch(server.base + 'api/heads')).json()).heads[0].id
const desk = await tab(1440, 900, 'light')
await desk.goto(`${server.base}#/heads/${id}`)
await desk.waitForSelector('.ports')
const before = await desk.textContent('.counts, .sum')
await fetch(`${server.base}api/heads/${id}/work`, { method: 'POST', body: JSON.stringify({ kind: 'lapped', valves: [] }) })
await desk.waitForSelector('.sum >> text=lapsed')
must(!before.includes('lapsed'), 'the card was lapsed before any work')
desk.expected.push('Failed to load resource', 'net::ERR', 'ERR_')
phone.expected.push('Failed to load resource', 'net::ERR', 'ERR_')
await desk.goto(`${server.base}#/rigs/new`)
await desk.fill('#f-name', 'Garage rig')
await desk.fill('#f-division', '1/2')
const code = await stop(server)
must(code === 0, 'the server ended with ' + code)
await desk.click('button:has-text("Keep this rig")')
await desk.waitForSelector('.trouble')
must(await desk.inputValue('#f-name') === 'Garage rig', 'a form lost what was typed while the server was away')
const port = new URL(server.base).port
server = await new Promise((good, bad) => {
  const p = spawn(program, ['serve', '--listen', '127.0.0.1:' + port, '--data', data, '--example', 'examples/inline-three'], { stdio: ['ignore', 'pipe', 'inherit'] })
  p.stdout.on('data', d => /http/.test(d) && good({ process: p, base: `http://127.0.0.1:${port}/` }))
  p.on('exit', c => bad(new Error('the server ended with ' + c)))
})
await desk.click('button:has-text("Keep this rig")')
await desk.waitForSelector('h1:has-text("Garage rig")')
say('a form outlived the server')

// 3. A recording with a preview, moved to another port with one key.
const heads = (await (await fetch(server.base + 'api/heads')).json()).heads
let example
for (let i = 0; i < 50 && !example; i++) {
  example = (await (await fetch(server.base + 'api/heads')).json()).heads.find(h => h.number === 'EX-3')
  if (!example) await new Promise(r => setTimeout(r, 100))
}
const ex = example.id
void heads
await desk.goto(`${server.base}#/upload`)
await desk.waitForSelector('input[type=file]')
await desk.setInputFiles('input[type=file]', 'examples/inline-three/cylinder-1-intake.csv')
await desk.waitForSelector('.column')
must((await desk.textContent('.columns')).includes('vacuum'), 'the preview does not say what a column was taken for')
await desk.screenshot({ path: join(out, 'ui-upload-1440-light.png') })
await desk.click('button:has-text("File it")')
await desk.waitForSelector('.filed')
await desk.goto(`${server.base}#/tray`)
await desk.waitForSelector('.tray li')
await desk.screenshot({ path: join(out, 'ui-tray-1440-light.png') })
await desk.keyboard.press('m')
await desk.waitForSelector('.move')
await desk.click('.move label:has-text("EX-3")')
await desk.click('.move button:has-text("cylinder 1 intake")')
await desk.waitForSelector('text=2 valves on one port')
await desk.waitForFunction(() => document.querySelectorAll('.tests tbody tr').length >= 2)
say('a recording was sent, looked at, filed in the tray and moved to a port')

// 4. Every sheet at every size: axe, targets, width, pictures.
await desk.close()
await phone.close()
const sheets = {
  heads: '#/', new: '#/new', same: `#/heads/${ex}/same`, card: `#/heads/${ex}`, ports: `#/heads/${ex}/ports`, port: `#/heads/${ex}/ports/p2`, leak: `#/heads/${ex}/ports/p1`, refused: `#/heads/${ex}/ports/p3`,
  count: `#/heads/${ex}/count/p6`, readings: `#/heads/${ex}/readings/p6`, work: `#/heads/${ex}/work`, sizes: `#/heads/${ex}/sizes`, upload: `#/heads/${ex}/upload/p6`,
  rigs: '#/rigs', rig: '', tray: '#/tray', first: '#/first', status: '',
}
const rig = (await (await fetch(server.base + 'api/rigs')).json()).rigs[0].id
sheets.rig = '#/rigs/' + rig
for (const [w, h, scheme] of [[1440, 900, 'light'], [1440, 900, 'dark'], [390, 844, 'light'], [320, 640, 'dark']]) {
  const t = await tab(w, h, scheme)
  for (const [name, hash] of Object.entries(sheets)) {
    await t.goto('about:blank')
    await t.goto(name === 'status' ? server.base + 'status' : server.base + hash)
    await t.waitForSelector('main')
    await t.evaluate(() => document.fonts.ready)
    await t.waitForTimeout(200)
    await t.screenshot({ path: join(out, `ui-${name}-${w}-${scheme}.png`), fullPage: true })
    const seen = await t.evaluate(look)
    for (const f of seen) faults.push(`${name}, ${w} px, ${scheme}: ${f}`)
    await t.evaluate(axe + ';0').catch(() => {})
    const found = await t.evaluate(async () => (await window.axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })).violations.map(v => `${v.id}: ${v.help}: ${v.nodes.slice(0, 2).map(n => n.target.join(' ') + ' ' + (n.any[0]?.message ?? '').slice(0, 140)).join(' | ')}`))
    for (const f of found) faults.push(`${name}, ${w} px, ${scheme}: axe: ${f}`)
    if (name === 'card' && w === 1440 && scheme === 'light') {
      await t.addStyleTag({ content: '' }).catch(() => {})
      await t.evaluate(() => document.documentElement.style.setProperty('filter', 'grayscale(1)'))
      await t.screenshot({ path: join(out, 'ui-card-1440-grey.png') })
    }
  }
  await t.close()
}
say(`${Object.keys(sheets).length} sheets at 4 sizes`)

// 5. How long until the first page can be used.
const quick = await tab(1440, 900, 'light')
const times = []
for (let i = 0; i < 5; i++) {
  await quick.goto('about:blank')
  await quick.goto(`${server.base}#/heads/${ex}`)
  await quick.waitForSelector('.ports')
  times.push(await quick.evaluate(() => Math.round(performance.now())))
}
say('job card shown after ' + times.join(', ') + ' ms')
await browser.close()
await stop(server)
rmSync(data, { recursive: true, force: true })
if (faults.length) {
  console.error([...new Set(faults)].map(f => 'ui: ' + f).join('\n'))
  process.exit(1)
}
say('nothing wrong on any sheet')

// look runs in the page.
function look() {
  const faults = []
  if (document.documentElement.scrollWidth > innerWidth) faults.push(`scrolls sideways: ${document.documentElement.scrollWidth} px; ${[...document.querySelectorAll('main *')].filter(e => e.getBoundingClientRect().right > innerWidth + 1 && !e.closest('nav,.columns')).slice(0, 3).map(e => e.tagName + '.' + e.className)}`)
  for (const e of document.querySelectorAll('a[href],button,input:not([type=radio]):not([type=checkbox]):not([type=file]),select,.choice label,.tick')) {
    const b = e.getBoundingClientRect()
    if (!b.width || e.closest('svg,p,.vh,li b')) continue
    if (b.height < 44) faults.push(`target ${b.height.toFixed(0)} px high: ${(e.textContent || e.id).slice(0, 30)}`)
  }
  const ids = [...document.querySelectorAll('[id]')].map(e => e.id)
  for (const id of new Set(ids)) if (ids.filter(i => i === id).length > 1) faults.push(`id ${id} twice`)
  if (!document.querySelector('h1')) faults.push('no h1')
  if (!document.title) faults.push('no title')
  return faults
}
