// How long from a sample on the wire until it is painted: this part is the gauge,
// sends 100 lines a second over TCP, room, pull and a hold of 25 s, and each line
// of the hold is told by its value. The page says when a frame with it has been
// painted. It fails on no time: what else the machine does is printed beside it.
import { createServer } from 'node:net'
import { availableParallelism, loadavg } from 'node:os'

const step = 0.002 // kPa from one sample of the hold to the next
const deep = 60

function watch() { // runs in the page, before anything of it
  const at = (window.seen = { painted: [] }) // [newest value, when]
  let newest = null, from = null
  const add = EventSource.prototype.addEventListener
  EventSource.prototype.addEventListener = function (type, f, ...more) {
    return add.call(this, type, type === 'frame' ? e => { newest = JSON.parse(e.data).points.at(-1)?.[1] ?? newest; f(e) } : f, ...more)
  }
  const after = new MessageChannel() // its message comes after the screen's frame is painted
  after.port1.onmessage = () => at.painted.push([from, performance.timeOrigin + performance.now()])
  const clear = CanvasRenderingContext2D.prototype.clearRect
  CanvasRenderingContext2D.prototype.clearRect = function (...a) {
    if (this.canvas.className === 'stripchart' && newest !== null) {
      from = newest
      newest = null
      after.port2.postMessage(0)
    }
    return clear.apply(this, a)
  }
}

export default async function (b) {
  const ex = await b.example()
  const sent = [] // when each sample of the hold was written
  const gauge = createServer(c => {
    const began = performance.now()
    let n = 0
    c.on('error', () => {})
    const turn = setInterval(() => {
      for (; n < (performance.now() - began) / 10; n++) {
        const t = n / 100
        let v = 0
        if (t > 12) {
          v = deep - step * sent.length
          sent.push(performance.timeOrigin + performance.now())
        } else if (t > 4) v = (deep + 0.5) * (1 - Math.exp(-(t - 4))) // deeper at its end than any of the hold
        c.write(`vacuum=${v.toFixed(3)} kPa\n`)
      }
      if (sent.length >= 2500) clearInterval(turn)
    }, 2)
    c.on('close', () => clearInterval(turn))
  })
  await new Promise(r => gauge.listen(0, '127.0.0.1', r))
  const t = await b.tab(1440, 900, 'light')
  await t.addInitScript(watch)
  const units = (await b.get('settings')).vacuum_unit
  const api = (method, path, body) => fetch(b.server.base + 'api/' + path, { method, body: JSON.stringify(body) })
  await api('PUT', 'settings', { vacuum_unit: 'kPa' })
  await t.goto(`${b.server.base}#/heads/${ex}/session`)
  const load = loadavg()[0]
  const began = await api('POST', 'live', { job: ex, sources: [`tcp://127.0.0.1:${gauge.address().port}#unit=kPa,reads=vacuum`], conditions: {} })
  b.must(began.status === 201, 'paint: no session began: ' + JSON.stringify(await began.json()))
  await t.waitForSelector('.stripchart')
  for (let i = 0; i < 60 && sent.length < 2500; i++) await t.waitForTimeout(1000)
  await t.waitForTimeout(500)
  const painted = await t.evaluate(() => window.seen.painted)
  const late = []
  let next = 0
  for (const [v, when] of painted) {
    if (when < sent[0] || v > deep) continue // of the pull
    const newest = Math.ceil((deep - v) / step - 0.1) // a point may be the mean of two
    for (; next <= newest && next < sent.length; next++) late.push(when - sent[next])
  }
  late.sort((x, y) => x - y)
  const q = p => late[Math.floor(p * (late.length - 1))]?.toFixed(1)
  b.must(late.length > 2000, `paint: ${late.length} of ${sent.length} samples were painted`)
  await api('POST', 'live/key', { do: 'finish' })
  await api('PUT', 'settings', { vacuum_unit: units })
  await t.close()
  gauge.close()
  b.say(`from the wire to paint at 100 samples a second: half within ${q(0.5)} ms, 95 % ${q(0.95)}, 99 % ${q(0.99)}, the latest ${q(1)} (${late.length} samples of a hold, load ${load.toFixed(1)} on ${availableParallelism()} processors)`)
}
