// guide.mjs PROGRAM CHROMIUM FOLDER takes the pictures of docs/first-port.md and
// README.md: the home builder's way from an empty data folder to the first
// judged port on a phone, and the example head's job card. The figures typed
// here are invented. A step that can't be reached, or a picture too large for
// the repository, ends it.
import { chromium } from 'playwright-core'
import { spawn } from 'node:child_process'
import { mkdtempSync, mkdirSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { deflateSync } from 'node:zlib'

const [, , program, executablePath, folder] = process.argv
const largest = 90_000 // bytes of a picture: what is committed stays in the history for good
mkdirSync(folder, { recursive: true })
const running = []
const folders = []

function start(extra) {
  const data = mkdtempSync(join(tmpdir(), 'seatproof-guide-'))
  folders.push(data)
  const p = spawn(program, ['serve', '--listen', '127.0.0.1:0', '--data', data, ...extra], { stdio: ['ignore', 'pipe', 'inherit'] })
  running.push(p)
  return new Promise((good, bad) => {
    let text = ''
    p.stdout.on('data', d => {
      text += d
      const m = text.match(/http:\/\/\S+\//)
      if (m) good(m[0])
    })
    p.on('exit', code => bad(new Error('the server ended with ' + code)))
  })
}
const stop = p => new Promise(done => {
  p.removeAllListeners('exit')
  if (p.exitCode !== null) return done()
  p.on('exit', done)
  p.kill('SIGTERM')
})

const browser = await chromium.launch({ executablePath, args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--disable-background-networking', '--disable-component-update', '--disable-sync'] })
const faults = []

async function open(width, height) {
  const t = await browser.newPage({ viewport: { width, height }, deviceScaleFactor: 1, colorScheme: 'light' })
  t.setDefaultTimeout(15_000)
  t.on('pageerror', e => faults.push(`script: ${e}`))
  return t
}

async function picture(t, name, how = {}) {
  await t.evaluate(() => document.fonts.ready)
  const shot = fewer(await t.evaluate(pixels, (await t.screenshot(how)).toString('base64')))
  writeFileSync(join(folder, name + '.png'), shot)
  if (shot.length > largest) faults.push(`${name}.png has ${shot.length} bytes, ${largest} are the most`)
  console.log(`guide: ${name}.png, ${shot.length} bytes`)
}

/** crc32 is the check of a PNG's chunk (ISO/IEC 15948, annex D); Node has its own only from 20.15 on. */
function crc32(bytes) {
  let c = ~0
  for (const b of bytes) {
    c ^= b
    for (let k = 0; k < 8; k++) c = c & 1 ? (c >>> 1) ^ 0xedb88320 : c >>> 1
  }
  return ~c >>> 0
}

/** pixels runs in the page and gives a screenshot's width, height and colours. */
async function pixels(base64) {
  const img = new Image()
  img.src = 'data:image/png;base64,' + base64
  await img.decode()
  const canvas = document.createElement('canvas')
  canvas.width = img.width
  canvas.height = img.height
  const g = canvas.getContext('2d')
  g.drawImage(img, 0, 0)
  const data = g.getImageData(0, 0, img.width, img.height).data
  let text = ''
  for (let i = 0; i < data.length; i += 30000) text += String.fromCharCode(...data.subarray(i, i + 30000))
  return { width: img.width, height: img.height, rgba: btoa(text) }
}

/**
 * fewer writes a PNG of the 16 colours that a picture uses most, each pixel in
 * the nearest of them: the sheets are ink, red and paper, the rest is the soft
 * edge of letters. Written as the PNG specification (ISO/IEC 15948) has it:
 * indexed colour, 4 bits, no filter.
 */
function fewer({ width, height, rgba }) {
  const bytes = Buffer.from(rgba, 'base64')
  const uses = new Map()
  for (let i = 0; i < bytes.length; i += 4) {
    const c = bytes.readUIntBE(i, 3)
    uses.set(c, (uses.get(c) ?? 0) + 1)
  }
  const apart = (a, b) => ((a >> 16) - (b >> 16)) ** 2 + ((a >> 8 & 255) - (b >> 8 & 255)) ** 2 + ((a & 255) - (b & 255)) ** 2
  const often = [...uses.keys()].sort((a, b) => uses.get(b) - uses.get(a))
  const kept = often.filter(c => uses.get(c) > width * height / 100).slice(0, 6) // flat areas as they are
  // tones closer than this would spend the palette on shades no eye tells apart
  for (const near of [28, 6, 0]) for (const c of often) if (kept.length < 16 && kept.every(k => apart(c, k) > near * near)) kept.push(c)
  const index = new Map(often.map(c => [c, kept.reduce((best, k, i) => apart(c, k) < apart(c, kept[best]) ? i : best, 0)]))
  const stride = 1 + Math.ceil(width / 2)
  const rows = Buffer.alloc(stride * height)
  for (let y = 0; y < height; y++) for (let x = 0; x < width; x++) rows[y * stride + 1 + (x >> 1)] |= index.get(bytes.readUIntBE(4 * (y * width + x), 3)) << (x & 1 ? 0 : 4)
  const chunk = (name, body) => {
    const b = Buffer.concat([Buffer.alloc(4), Buffer.from(name), body, Buffer.alloc(4)])
    b.writeUInt32BE(body.length, 0)
    b.writeUInt32BE(crc32(b.subarray(4, b.length - 4)), b.length - 4)
    return b
  }
  const header = Buffer.alloc(13)
  header.writeUInt32BE(width, 0)
  header.writeUInt32BE(height, 4)
  header.set([4, 3, 0, 0, 0], 8)
  const palette = Buffer.alloc(3 * kept.length)
  kept.forEach((c, i) => palette.writeUIntBE(c, 3 * i, 3))
  return Buffer.concat([Buffer.from('\x89PNG\r\n\x1a\n', 'latin1'), chunk('IHDR', header), chunk('PLTE', palette), chunk('IDAT', deflateSync(rows, { level: 9 })), chunk('IEND', Buffer.alloc(0))])
}

/** still waits until the phone has drawn the last answer; its clock is ours. */
async function still(t) {
  await t.waitForLoadState('networkidle')
  await t.clock.runFor(500)
  await t.waitForLoadState('networkidle')
}

async function firstPort() {
  const t = await open(390, 844)
  await t.clock.install() // the count's 23 s pass at once
  let n = 0
  const step = () => picture(t, 'first-port-' + ++n)
  const base = await start([])

  await t.goto(base)
  await t.waitForSelector('text=No head booked in yet.')
  await step()

  await t.click('text=Which way round?')
  await t.waitForSelector('.firsts')
  await t.evaluate(() => document.activeElement?.blur())
  await step()
  await t.locator('.firsts figure').nth(2).evaluate(e => e.scrollIntoView())
  await step()

  await t.click('text=Describe the rig')
  await t.fill('#f-name', 'Garage rig')
  await t.fill('#f-division', '1/2')
  await t.locator('label:has-text("Blanked reading")').first().click()
  await t.keyboard.type('22')
  await t.evaluate(() => { document.activeElement?.blur(); scrollTo(0, 0) })
  await step()
  await t.click('button:has-text("Keep this rig")')
  await t.waitForSelector('h1:has-text("Garage rig")')

  await t.goto(base + '#/new')
  await t.fill('#f-number', 'T-1')
  await t.fill('#f-layout-bore', '72')
  await t.fill('#f-layout-stroke', '84')
  await still(t)
  await t.waitForSelector('.preview svg')
  await t.evaluate(() => { document.activeElement?.blur(); scrollTo(0, 0) })
  await step()
  await t.click('button:has-text("Book it in")')
  await t.waitForSelector('text=No port tested yet.')
  await still(t)
  await t.waitForSelector('.next .first a.button')
  await step()

  await t.locator('.next .first a.button').first().click()
  await t.waitForSelector('text=How should the count be called?')
  await still(t)
  await step()
  await t.click('label:has-text("by beeps")')
  await t.click('button:has-text("Start the count")')
  await t.waitForSelector('.counting')
  await t.clock.runFor(3000)
  await t.waitForSelector('text=until it is steady')
  await step()
  await t.clock.runFor(6000)
  await t.waitForSelector('text=valve shut, hands off')
  for (let i = 0; i < 80 && (await t.textContent('.counting .digits')).trim() !== '10'; i++) await t.clock.runFor(200)
  await t.waitForSelector('text=Read the needle now.')
  await step()
  await t.clock.runFor(6000)
  await t.waitForSelector('text=When the pump was shut off')
  await t.fill('.needle >> nth=0 >> input', '21½')
  await t.fill('.needle >> nth=1 >> input', '21¼')
  await t.evaluate(() => { document.activeElement?.blur(); scrollTo(0, 0) })
  await step()
  await t.click('button:has-text("File it")')
  await t.waitForSelector('.filed .verdictword')
  await still(t)
  await step()
  console.log('guide: the first port: ' + (await t.textContent('.filed')).slice(0, 200))
  await t.close()
}

async function jobCard() {
  const base = await start(['--example', 'examples/inline-three'])
  let head
  for (let i = 0; i < 100 && !head; i++) {
    head = (await (await fetch(base + 'api/heads')).json()).heads.find(h => h.number === 'EX-3')
    if (!head) await new Promise(done => setTimeout(done, 100))
  }
  if (!head) throw new Error('the example head did not come within 10 s')
  // it is booked in test by test: wait until nothing has changed for 2 s
  for (let was = '', since = Date.now(); Date.now() - since < 2000; await new Promise(done => setTimeout(done, 100))) {
    const now = await (await fetch(`${base}api/heads/${head.id}`)).text()
    if (now !== was) [was, since] = [now, Date.now()]
  }
  for (const [name, width, height] of [['job-card', 1440, 900], ['job-card-phone', 390, 844]]) {
    const t = await open(width, height)
    await t.goto(`${base}#/heads/${head.id}`)
    await t.waitForSelector('.ports')
    await t.waitForTimeout(500)
    await picture(t, name)
    await t.close()
  }
}

try {
  await firstPort()
  await jobCard()
} catch (e) {
  faults.push(String(e))
} finally {
  await browser.close()
  for (const p of running) await stop(p)
  for (const f of folders) rmSync(f, { recursive: true, force: true })
}
if (faults.length) {
  console.error([...new Set(faults)].map(f => 'guide: ' + f).join('\n'))
  process.exit(1)
}
