// Photos as phones make them and spoken notes: kept byte for byte, shown the
// right way round, and whatever is neither says so.
import { openBench } from '../bench.mjs'
import { execFileSync } from 'node:child_process'
import { createHash } from 'node:crypto'
import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

const hash = bytes => createHash('sha256').update(Buffer.from(bytes)).digest('hex')

// loaded waits for every picture, those below the window too.
const loaded = async t => {
  await t.evaluate(() => document.querySelectorAll('img').forEach(i => (i.loading = 'eager')))
  await t.waitForFunction(() => [...document.images].every(i => i.complete))
}

export default async function (b) {
  const folder = mkdtempSync(join(tmpdir(), 'seatproof-photos-'))
  execFileSync('go', ['-C', 'tools', 'run', './photo', folder], { stdio: 'inherit' })
  const own = await openBench(b.program, process.argv[3], b.out, ['--use-fake-device-for-media-stream', '--use-fake-ui-for-media-stream'])
  const ex = await own.example()
  const desk = await own.tab(1440, 900, 'light')
  const sheet = `${own.server.base}#/heads/${ex}/ports/p2`
  await desk.goto(sheet)
  await desk.waitForSelector('.photos')
  const input = desk.locator('.photos input[type=file]').first()
  own.must(await input.getAttribute('accept') === 'image/jpeg,image/png', 'the photo is not asked for as JPEG or PNG')
  const pictures = async () => (await own.get(`heads/${ex}/pictures`)).pictures
  const send = async (name, note) => {
    const n = await desk.locator('.pictures li, .sounds li').count()
    if (note) await desk.fill('#f-Note-to-the-next-one', note)
    await input.setInputFiles(join(folder, name))
    await desk.waitForFunction(n => document.querySelectorAll('.pictures li, .sounds li').length === n + 1, n)
  }
  await send('turned-6.jpg', 'Contact band, left valve')
  await send('IMG_0412.HEIC')
  own.must((await desk.textContent('.plainfile')).includes('IMG_0412.HEIC'), 'a HEIC does not show its name')
  own.must(await desk.getAttribute('.plainfile', 'download') === 'IMG_0412.HEIC', 'a HEIC is not offered under its name')

  // a large one, on a slow line, with what is sent so far in sight
  const line = await desk.context().newCDPSession(desk)
  await line.send('Network.enable')
  await line.send('Network.emulateNetworkConditions', { offline: false, latency: 5, downloadThroughput: -1, uploadThroughput: 6e6 })
  await desk.fill('#f-Note-to-the-next-one', 'The whole chamber')
  await input.setInputFiles(join(folder, 'large.jpg'))
  await desk.waitForSelector('.photos progress')
  const seen = new Set()
  while (await desk.locator('.photos progress').count()) {
    const p = await desk.locator('.photos progress').first().evaluate(e => e.value, null, { timeout: 500 }).catch(() => 1)
    seen.add(p)
    if (p > .2 && p < .8 && !seen.shot) {
      seen.shot = true
      await own.shot(desk, 'photo-sending-1440')
    }
    await desk.waitForTimeout(60)
  }
  own.must(seen.size > 3, `a photo of 12 MB showed ${seen.size} steps of progress`)
  await line.send('Network.emulateNetworkConditions', { offline: false, latency: 0, downloadThroughput: -1, uploadThroughput: -1 })

  // two notes: one spoken, one a file
  await desk.fill('#f-Note-to-the-next-one', 'Said at the bench')
  await desk.click('button:has-text("Speak a note")')
  await desk.waitForSelector('button:has-text("Stop and keep")')
  await desk.waitForTimeout(2200)
  await desk.click('button:has-text("Stop and keep")')
  await desk.waitForSelector('.sounds audio')
  const form = await desk.evaluate(async ({ ex, wav }) => {
    const f = new FormData()
    f.append('port', 'p2')
    f.append('note', 'From the telephone')
    f.append('file', new Blob([new Uint8Array(wav)], { type: 'audio/wav' }), 'note.wav')
    return (await fetch(`/api/heads/${ex}/pictures`, { method: 'POST', body: f })).status
  }, { ex, wav: [...readFileSync(join(folder, 'note.wav'))] })
  own.must(form === 201, 'a sound file was answered with ' + form)
  await desk.waitForFunction(() => document.querySelectorAll('.sounds audio').length === 2)
  for (let i = 0; i < 2; i++) {
    const played = await desk.locator('.sounds audio').nth(i).evaluate(a => new Promise(done => {
      a.onerror = () => done('error ' + a.error?.code)
      a.ontimeupdate = () => a.currentTime > 0.3 && done('plays')
      a.muted = true
      a.play().catch(e => done(String(e)))
      setTimeout(() => done('stands at ' + a.currentTime), 4000)
    }))
    own.must(played === 'plays', `spoken note ${i + 1}: ${played}`)
    await desk.locator('.sounds audio').nth(i).evaluate(a => (a.pause(), (a.currentTime = 0)))
  }

  // a text that calls itself a photo
  desk.expected.push('422')
  await input.setInputFiles(join(folder, 'readme.jpg'))
  await desk.waitForSelector('.photos .fault')
  own.must((await desk.textContent('.photos .fault')).includes('readme.jpg is neither a photo nor a sound'), 'a text sent as a photo: ' + await desk.textContent('.photos .fault'))
  await own.shot(desk, 'photos-wrong-1440', { fullPage: true })
  await desk.reload()
  await desk.waitForFunction(() => document.querySelectorAll('.pictures img').length === 2)
  await loaded(desk)
  await own.shot(desk, 'photos-1440-light', { fullPage: true })
  await own.inspect(desk, 'port sheet with photos, 1440 px')

  const phone = await own.tab(390, 844, 'light', { hasTouch: true, isMobile: true })
  await phone.goto(sheet)
  await phone.waitForSelector('.pictures img')
  own.must(await phone.locator('.photos input[capture=environment]').count() === 1, 'a phone is not offered its camera')
  await phone.locator('.photos').scrollIntoViewIfNeeded()
  await loaded(phone)
  await own.shot(phone, 'photos-390-light', { fullPage: true })
  await own.inspect(phone, 'port sheet with photos, 390 px')

  // every orientation, kept byte for byte and shown upright
  await desk.goto(`${own.server.base}#/heads/${ex}/ports/p4`)
  await desk.waitForSelector('.photos')
  for (let o = 1; o <= 8; o++) await send(`turned-${o}.jpg`, `Orientation ${o}`)
  for (const p of await pictures()) {
    const local = p.name.startsWith('spoken') ? null : readFileSync(join(folder, p.name))
    const kept = Buffer.from(await (await fetch(own.server.base.slice(0, -1) + p.url)).arrayBuffer())
    own.must(local === null ? kept.length === p.size : hash(local) === hash(kept), `${p.name} was not kept byte for byte`)
    const o = p.name.match(/^turned-(\d)/)?.[1]
    if (!o) continue
    const [shape, ...corners] = await desk.evaluate(async url => {
      const i = new Image()
      i.src = url
      await i.decode()
      const c = document.createElement('canvas')
      c.width = i.naturalWidth
      c.height = i.naturalHeight
      const g = c.getContext('2d', { willReadFrequently: true })
      g.drawImage(i, 0, 0)
      const at = (x, y) => { const [r, gr, bl] = g.getImageData(x * c.width, y * c.height, 1, 1).data; return r > 150 && gr > 150 ? 'white' : r > 150 ? 'red' : gr > 120 ? 'green' : bl > 150 ? 'blue' : 'none' }
      return [c.width + '×' + c.height, at(.25, .25), at(.75, .25), at(.75, .75), at(.25, .75)]
    }, p.url)
    own.must(shape === '240×160' && corners.join() === 'red,green,blue,white', `orientation ${o} is shown ${shape}, ${corners}`)
  }
  await loaded(desk)
  await own.shot(desk, 'photos-turned-1440', { fullPage: true })
  b.say('photos in 8 orientations, a HEIC, one of 12 MB, two notes: kept byte for byte, shown upright and played')
  b.faults.push(...own.faults)
  await own.close()
  rmSync(folder, { recursive: true, force: true })
}
