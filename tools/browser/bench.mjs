// The bench of the browser's tests: one server on a data folder of its own, one
// browser, and the list of what was found wrong. Every part takes it.
import { chromium } from 'playwright-core'
import { spawn } from 'node:child_process'
import { readdirSync, readFileSync, mkdtempSync, mkdirSync, rmSync } from 'node:fs'
import { createRequire } from 'node:module'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')

/** start runs the program on a data folder; it gives the process and its address once it answers. */
function start(program, data, extra = [], listen = '127.0.0.1:0') {
  const p = spawn(program, ['serve', '--listen', listen, '--data', data, ...extra], { stdio: ['ignore', 'pipe', 'inherit'] })
  process.setMaxListeners(50)
  process.on('exit', () => p.kill()) // a part that failed leaves no server behind
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

/** stop ends a server as a person's Ctrl-C does, and gives its exit code. */
const stop = s => new Promise(done => {
  s.process.removeAllListeners('exit')
  s.process.on('exit', code => done(code))
  s.process.kill('SIGTERM')
})

export async function openBench(program, executablePath, out, more = []) {
  mkdirSync(out, { recursive: true })
  const data = mkdtempSync(join(tmpdir(), 'seatproof-ui-'))
  const browser = await chromium.launch({ executablePath, args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--disable-background-networking', '--disable-component-update', '--disable-sync', ...more] })
  const b = {
    program, out, data, browser, faults: [], server: await start(program, data),
    say: what => console.log('ui: ' + what),
    must: (ok, what) => {
      if (!ok) b.faults.push(what)
    },
    shot: (t, name, how = {}) => t.screenshot({ path: join(out, `ui-${name}.png`), ...how }),
    get: async path => (await fetch(b.server.base + 'api/' + path)).json(),
    /** A tab that counts as a fault every console error but those expected, and every request to anywhere else. */
    async tab(width, height, colorScheme, how = {}) {
      const t = await browser.newPage({ viewport: { width, height }, colorScheme, ...how })
      const name = () => `${width} px, ${colorScheme}, ${new URL(t.url()).hash}`
      t.expected = []
      t.on('console', m => { if (['error', 'warning'].includes(m.type()) && !t.expected.some(e => m.text().includes(e))) b.faults.push(`${name()}: console: ${m.text()}`) })
      t.on('pageerror', e => b.faults.push(`${name()}: script: ${e}`))
      t.on('request', r => { if (![b.server.base, ...(t.also ?? [])].some(base => r.url().startsWith(base)) && !r.url().startsWith('data:') && !r.url().startsWith('blob:')) b.faults.push(`${name()}: asks for ${r.url()}`) })
      return t
    },
    /** again stops the server and starts it at the same address, with the example head. */
    async again(between = async () => {}) {
      const code = await stop(b.server)
      b.must(code === 0, 'the server ended with ' + code)
      await between()
      b.server = await start(program, data, ['--example', 'examples/inline-three'], new URL(b.server.base).host)
      b.hasExample = true
    },
    /** other starts a second server on an empty folder of its own; a tab that goes there has its address in also. */
    async other() {
      const folder = mkdtempSync(join(tmpdir(), 'seatproof-ui-'))
      const o = {
        folder, ...(await start(program, folder)),
        /** kill ends it as a power cut would, and again starts it at the same address. */
        kill: () => new Promise(done => {
          o.process.removeAllListeners('exit')
          o.process.on('exit', done)
          o.process.kill('SIGKILL')
        }),
        again: async () => Object.assign(o, await start(program, folder, [], new URL(o.base).host)),
        close: async () => {
          const code = await stop(o)
          rmSync(folder, { recursive: true, force: true })
          return code
        },
      }
      return o
    },
    /** The example head, once the server has read it in. */
    async example() {
      if (!b.hasExample) await b.again()
      const recordings = readdirSync('examples/inline-three').filter(f => f.startsWith('cylinder-')).length
      let seen = 'no head'
      for (let i = 0; i < 300; i++) { // the head comes first, its tests one by one, the work last
        const h = (await b.get('heads')).heads.find(h => h.number === 'EX-3')
        if (h && b.exampleRead) return h.id
        if (h) {
          const { head, card } = await b.get('heads/' + h.id)
          const tests = (await Promise.all(head.ports.map(p => b.get(`heads/${h.id}/ports/${p.id}`)))).reduce((n, p) => n + p.tests.length, 0)
          seen = `${tests} of ${recordings} tests`
          if (tests >= recordings && card.rows.some(r => r.lapsed)) {
            b.exampleRead = true
            return h.id
          }
        }
        await new Promise(r => setTimeout(r, 100))
      }
      throw new Error('the example head is not there: ' + seen)
    },
    /** What a person would see go wrong on a sheet, and what axe-core finds. */
    async inspect(t, name) {
      for (const f of await t.evaluate(look)) b.faults.push(`${name}: ${f}`)
      await t.evaluate(axe + ';0').catch(() => {})
      const found = await t.evaluate(async () => (await window.axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })).violations.map(v => `${v.id}: ${v.help}: ${v.nodes.slice(0, 2).map(n => n.target.join(' ') + ' ' + (n.any[0]?.message ?? '').slice(0, 140)).join(' | ')}`))
      for (const f of found) b.faults.push(`${name}: axe: ${f}`)
    },
    async close() {
      await browser.close()
      await stop(b.server)
      rmSync(data, { recursive: true, force: true })
    },
  }
  return b
}

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
