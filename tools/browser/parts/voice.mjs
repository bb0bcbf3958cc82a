// The count called aloud: by recorded words where the system has no voice, by the voice where it has one, else by beeps.
export default async function (b) {
  const ex = await b.example()
  const settings = sound => fetch(b.server.base + 'api/settings', { method: 'PUT', body: JSON.stringify({ sound }) })
  const before = (await b.get('settings')).sound
  const ears = () => {
    window.heard = []
    const start = AudioBufferSourceNode.prototype.start
    AudioBufferSourceNode.prototype.start = function (at, ...more) {
      window.heard.push({ at, long: this.buffer.duration, state: this.context.state, clock: performance.now() })
      return start.call(this, at, ...more)
    }
    const tone = OscillatorNode.prototype.start
    OscillatorNode.prototype.start = function (...a) { window.heard.push({ tone: this.frequency.value }); return tone.apply(this, a) }
  }
  const mute = () => Object.defineProperty(window, 'speechSynthesis', { value: { getVoices: () => [], speak: () => window.heard.push('speech'), cancel() {}, addEventListener() {} } })
  const open = async (...scripts) => {
    const t = await b.tab(390, 844, 'light')
    t.clips = []
    t.on('request', r => { if (r.url().includes('/assets/voice-')) t.clips.push(r.url()) })
    for (const s of scripts) await t.addInitScript(s)
    await t.goto(`${b.server.base}#/heads/${ex}/count/p6`)
    await t.waitForSelector('text=Start the count')
    return t
  }

  await settings('')
  let t = await open(mute, ears)
  await t.click('label:has-text("aloud, by recorded words")')
  await t.waitForFunction(() => document.querySelector('.ready')?.textContent.includes('Calls: aloud, by recorded words'))
  await b.shot(t, 'voice-clips-390-light')
  // Every clip: long enough, not silent, and how long the longest sequences are.
  const all = await t.evaluate(async () => {
    const { voice } = JSON.parse(document.getElementById('begin').textContent).words
    const out = {}
    for (const [word, url] of Object.entries(voice)) {
      const x = (await new OfflineAudioContext(1, 1, 22050).decodeAudioData(await (await fetch(url)).arrayBuffer())).getChannelData(0)
      let from = 0, to = x.length
      while (from < to && Math.abs(x[from]) < 0.01) from++
      while (to > from && Math.abs(x[to - 1]) < 0.01) to--
      let sum = 0
      for (let i = from; i < to; i++) sum += x[i] * x[i]
      out[word] = { long: (to - from) / 22050, loud: Math.sqrt(sum / Math.max(1, to - from)) }
    }
    return out
  })
  const louds = Object.values(all).map(c => 20 * Math.log10(c.loud))
  for (const [word, c] of Object.entries(all)) {
    b.must(c.long > 0.15 && c.long < 1.4, `the clip of "${word}" has ${c.long.toFixed(2)} s`)
    b.must(c.loud > 0.03, `the clip of "${word}" is nearly silent: ${c.loud.toFixed(4)}`)
  }
  b.must(Math.max(...louds) - Math.min(...louds) < 6, `clips differ by ${(Math.max(...louds) - Math.min(...louds)).toFixed(1)} dB`)
  const longest = ['cylinder 3 intake', 'cylinder 16 exhaust right port', 'cylinders 15 and 16 exhaust'].map(s => [s, s.split(' ').reduce((sum, w) => sum + all[w].long, 0)])
  for (const [s, long] of longest) b.must(long < 2.5, `"${s}" takes ${long.toFixed(2)} s`)

  await t.keyboard.press('Enter')
  await t.waitForSelector('.counting')
  await t.waitForFunction(() => window.heard.length >= 4, null, { timeout: 20000 }).catch(() => {})
  const heard = await t.evaluate(() => window.heard)
  b.must(heard.length === 4 && heard.every(h => h.state === 'running'), 'the port’s name and "pump on" are not four clips in a running AudioContext: ' + JSON.stringify(heard))
  for (let i = 1; i < 3 && heard.length > 2; i++) b.must(Math.abs(heard[i].at - heard[i - 1].at - heard[i - 1].long) < 0.005, `a gap before word ${i + 1} of the port’s name`)
  b.must(t.clips.some(u => u.includes('voice-cylinder.mp3')) && t.clips.some(u => u.includes('voice-shut.mp3')), 'the clips are not fetched before they are called: ' + t.clips)
  await t.close()

  const talk = () => {
    window.spoken = []
    window.SpeechSynthesisUtterance = class { constructor(text) { this.text = text } }
    Object.defineProperty(window, 'speechSynthesis', { value: { getVoices: () => [{ name: 'a voice', lang: 'en' }], cancel() {}, addEventListener() {}, speak: u => { window.spoken.push(u.text); setTimeout(() => u.onend(), 50) } } })
  }
  t = await open(talk, ears)
  b.must(!t.clips.length, 'clips are fetched where the system has a voice')
  await t.keyboard.press('Enter')
  await t.waitForFunction(() => window.spoken.length >= 2, null, { timeout: 20000 }).catch(() => {})
  const said = await t.evaluate(() => window.spoken)
  b.must(said[0] === 'cylinder 3 exhaust' && said[1] === 'pump on', 'the voice does not name the port and then call: ' + said)
  b.must((await t.evaluate(() => window.heard)).length === 0, 'the voice speaks and clips play too')
  await t.keyboard.press('Enter') // shut now
  await t.waitForFunction(() => window.spoken.includes('shut'), null, { timeout: 20000 }).catch(() => b.faults.push('the voice does not call "shut"'))
  await t.click('text=I have seen enough', { timeout: 20000 })
  await t.fill('.needle >> nth=0 >> input', '21½')
  await t.fill('.needle >> nth=1 >> input', '21¼')
  await t.click('button:has-text("File it")')
  await t.waitForSelector('.filed')
  const last = await t.evaluate(() => window.spoken.at(-1))
  b.must(/^cylinder 3 exhaust, (holds|leaks|can't tell yet)$/.test(last), 'the port is not named after it is filed: ' + last)
  await t.close()

  // Clips that can't be had: beeps.
  t = await b.tab(390, 844, 'light')
  t.expected.push('404', 'Failed to load')
  await t.addInitScript(mute)
  await t.addInitScript(ears)
  await t.route('**/assets/voice-*', r => r.fulfill({ status: 404, body: '' }))
  await t.goto(`${b.server.base}#/heads/${ex}/count/p6`)
  await t.waitForSelector('text=Start the count')
  await t.keyboard.press('Enter')
  await t.waitForFunction(() => window.heard.some(h => h.tone === 440), null, { timeout: 20000 }).catch(() => b.faults.push('without voice and clips nothing beeps'))
  await t.close()
  await settings(before)
  b.say(`${Object.keys(all).length} words recorded, within ${(Math.max(...louds) - Math.min(...louds)).toFixed(1)} dB; ` + longest.map(([s, long]) => `"${s}" ${long.toFixed(2)} s`).join(', '))
}
