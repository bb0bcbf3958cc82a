// How long from asking for the page until the job card can be used: its table and
// drawing are in the page, the frame that shows them is made, the typeface is
// there. The page itself takes the time, so that the driver's own is not in it.
// Cold is a fresh cache, warm the same page again. Nothing fails on a time: what
// else the machine does is printed beside it.
import { availableParallelism, loadavg } from 'node:os'

const rounds = 9

function watch() { // runs in the page, before anything of it
  const o = new MutationObserver(() => {
    if (!document.querySelector('.ports tbody tr') || !document.querySelector('.drawing svg')) return
    o.disconnect()
    requestAnimationFrame(() => {
      const after = new MessageChannel() // comes once the frame is made
      after.port1.onmessage = async () => {
        await document.fonts.ready
        window.usable = performance.now()
      }
      after.port2.postMessage(0)
    })
  })
  o.observe(document, { childList: true, subtree: true })
}

const median = a => [...a].sort((x, y) => x - y)[a.length >> 1]

export default async function (b) {
  const url = `${b.server.base}#/heads/${await b.example()}`
  const times = { cold: [], warm: [] }
  const loads = [loadavg()[0]]
  for (let i = 0; i < rounds; i++) {
    const fresh = await b.browser.newContext({ viewport: { width: 1440, height: 900 } })
    const t = await fresh.newPage()
    await t.addInitScript(watch)
    for (const cache of ['cold', 'warm']) {
      await t.goto('about:blank')
      await t.goto(url)
      await t.waitForFunction(() => window.usable)
      times[cache].push(await t.evaluate(() => window.usable))
    }
    await fresh.close()
    loads.push(loadavg()[0])
  }
  const said = Object.entries(times).map(([cache, ms]) => `${cache} cache ${Math.round(median(ms))} ms (${Math.round(Math.min(...ms))} to ${Math.round(Math.max(...ms))})`)
  b.say(`job card usable after: ${said.join(', ')}; medians of ${rounds}, load ${Math.min(...loads).toFixed(1)} to ${Math.max(...loads).toFixed(1)} on ${availableParallelism()} processors`)
}
