// A session from a real source: another process speaks lines over TCP, its address
// is typed on the sheet, and the figure comes. It takes the example head.
import { spawn } from 'node:child_process'

export default async function (b) {
  const ex = await b.example()
  const rig = spawn(b.program, ['practise', '--on', 'tcp', '--writes', 'timed', '--by-hand'], { stdio: ['pipe', 'ignore', 'pipe'] /* nobody presses its keys: it stays vented */ })
  const address = await new Promise((good, bad) => {
    let text = ''
    rig.stderr.on('data', d => {
      text += d
      const m = text.match(/rig at (\S+)/)
      if (m) good(m[1])
    })
    rig.on('exit', code => bad(new Error('the practice rig ended with ' + code)))
  })
  try {
    const t = await b.tab(1440, 900, 'light')
    t.expected.push('422') // an address without a place, and what the lines leave open
    await t.goto(`${b.server.base}#/heads/${ex}/session`)
    await t.click('label:has-text("converter on the network")')
    const at = '.left .field:has(label:has-text("ddress")) input'
    await t.fill(at, 'tcp:')
    await t.click('button:has-text("Begin with the blank")')
    await t.waitForSelector('.fault')
    b.must(await t.inputValue(at) === 'tcp:', 'a wrong address is lost')
    await b.shot(t, 'session-wire-fault-1440-light', { fullPage: true })
    await t.fill(at, address + '#unit=kPa,reads=vacuum')
    await t.click('button:has-text("Begin with the blank")')
    let run
    for (let i = 0; i < 100 && !run?.view.gauges[0].text; i++) {
      await t.waitForTimeout(100)
      run = (await b.get('live')).run
    }
    b.must(run && !run.practise && run.view.target === 'blank' && run.view.gauges[0].text !== '', 'no figure came from ' + address + ': ' + JSON.stringify(run?.view.gauges))
    await t.waitForTimeout(500)
    await b.shot(t, 'session-wire-1440-light')
    await b.inspect(t, 'session from a wire')
    rig.kill()
    await t.waitForFunction(async () => (await (await fetch('/api/live')).json()).run.view.gauges[0].says !== '', null, { timeout: 15000, polling: 500 })
    await t.waitForTimeout(1200)
    await b.shot(t, 'session-wire-lost-1440-light')
    const lost = (await b.get('live')).run.view.gauges[0]
    b.must(lost.text === '' && (await t.textContent('main')).includes(lost.says.slice(0, 20)), 'a gauge that went is not told: ' + JSON.stringify(lost))
    await fetch(b.server.base + 'api/live/key', { method: 'POST', body: JSON.stringify({ do: 'finish' }) })
    await t.close()
    b.say(`a session from ${address}: the figure came, and its going was told: "${lost.says}"`)
  } finally {
    rig.kill()
  }
}
