// A long recording: progress, stopping, a server that dies in the middle, and what it
// takes. UPLOAD_MB says how long; make upload-large tries 200 MB.
import { readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { bigLog } from '../biglog.mjs'

const rss = (pid, what) => +readFileSync(`/proc/${pid}/status`, 'utf8').match(new RegExp(what + ':\\s+(\\d+)'))[1] / 1024

export default async function (b) {
  const mb = +(process.env.UPLOAD_MB ?? 40)
  const file = join(tmpdir(), `seatproof-${process.pid}.csv`)
  const size = bigLog(file, mb)
  const o = await b.other()
  const t = await b.tab(390, 844, 'light')
  t.also = [o.base]
  t.expected.push('ERR_', 'Failed to load resource')
  const net = await t.context().newCDPSession(t)
  await net.send('Network.enable')
  const slow = on => net.send('Network.emulateNetworkConditions', { offline: false, latency: 0, downloadThroughput: -1, uploadThroughput: on ? size / 8 : -1 })
  const sending = () => t.waitForFunction(() => /: [1-9]\d? % of /.test(document.querySelector('.sending')?.textContent ?? ''), null, { polling: 50 })
  try {
    await t.goto(`${o.base}#/upload`)
    await t.waitForSelector('input[type=file]')
    // Stopped by hand: said, and it can be sent again.
    await slow(true)
    await t.setInputFiles('input[type=file]', file)
    await sending()
    await b.shot(t, 'upload-large-390-light')
    await b.inspect(t, 'a recording that is sent, 390 px')
    await t.click('.sending button:has-text("Stop")')
    await t.waitForSelector('text=Nothing was filed.')
    // The server dies in the middle: said, the file is kept, and it goes once the server is back.
    await t.click('button:has-text("Send it again")')
    await sending()
    await o.kill()
    await t.waitForSelector('.trouble:has-text("The server does not answer.")')
    await b.shot(t, 'upload-died-390-light')
    await slow(false)
    await o.again()
    const before = rss(o.process.pid, 'VmRSS')
    await t.evaluate(() => {
      window.seen = []
      new MutationObserver(() => {
        const p = document.querySelector('.sending progress')
        if (p && p.value !== seen.at(-1)) seen.push(p.value)
      }).observe(document.body, { subtree: true, childList: true, attributes: true, characterData: true })
    })
    const began = Date.now()
    await t.click('button:has-text("Send it again")')
    await t.waitForSelector('.column', { timeout: 300_000 })
    const took = (Date.now() - began) / 1000
    const parts = await t.evaluate(() => seen)
    b.must(parts.length >= 3 && parts.every((p, i) => !i || p >= parts[i - 1]) && parts.at(-1) > 0.9, 'progress was shown as ' + parts)
    b.must((await t.textContent('.columns')).includes('vacuum'), 'the preview does not say what a column was taken for')
    b.must((await t.textContent('main')).includes('samples over'), 'the preview does not say how many samples there are')
    const most = rss(o.process.pid, 'VmHWM')
    b.must(most - before < 150, `the server took ${Math.round(most - before)} MB more for a file of ${Math.round(size / 1e6)} MB`)
    await t.click('button:has-text("File it")')
    await t.waitForSelector('.filed', { timeout: 120_000 })
    const blob = (await (await fetch(o.base + 'api/tests?tray=1')).json()).tests
    b.must(blob.length === 1, `${blob.length} tests are in the tray`)
    const kept = await fetch(`${o.base}api/tests/${blob[0].id}/file`, { method: 'HEAD' })
    b.must(kept.ok, 'the recording is not kept')
    b.say(`${(size / 1e6).toFixed(0)} MB sent and shown in ${took.toFixed(1)} s, ${parts.length} steps of progress; server ${before.toFixed(0)} MB before, ${most.toFixed(0)} MB at most`)
  } finally {
    rmSync(file, { force: true })
    await t.close()
    await o.close()
  }
}
