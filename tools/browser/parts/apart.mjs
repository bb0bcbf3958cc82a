// Which valve of a shared port leaks: the port sheet of the example head, whose
// cylinder 2 intake was tested with masks, and a port whose plan asks for one. All
// readings are invented.
export default async function (b) {
  const head = await b.example()
  const { ports } = (await b.get('heads/' + head)).head
  const port = ports.find(p => p.name === 'cylinder 2 intake')
  for (const [w, h, scheme] of [[1440, 900, 'light'], [1440, 900, 'dark'], [390, 844, 'light'], [390, 844, 'dark']]) {
    const t = await b.tab(w, h, scheme)
    await t.goto(`${b.server.base}#/heads/${head}`)
    await t.waitForSelector('.ports .blame:has-text("valve")')
    b.must(/left valve/.test(await t.textContent('.ports .blame:has-text("valve")')), 'apart: the job card does not name the valve that leaks')
    if (w > 700) await b.shot(t, `apart-card-${w}-${scheme}`)
    await t.goto(`${b.server.base}#/heads/${head}/ports/${port.id}`)
    await t.waitForSelector('.apartblock .openbar')
    b.must(/left valve leaks/i.test(await t.textContent('.apartblock h3')), 'apart: the sheet does not name the valve that leaks')
    b.must((await t.locator('.apart .says').count()) === 3, 'apart: not a row for each valve and what is left')
    await t.click('button:has-text("What was tried")')
    await t.waitForSelector('.grounds')
    await t.evaluate(() => document.fonts.ready)
    await b.shot(t, `apart-${w}-${scheme}`, { fullPage: true })
    await b.inspect(t, `which valve, ${w} px, ${scheme}`)
    await t.click('button:has-text("What was tried")')
    await t.close()
  }

  // a port that leaks, everything but masks tried: the one thing to do is a mask
  const api = async (method, path, body) => {
    const r = await fetch(b.server.base + 'api/' + path, { method, body: JSON.stringify(body) })
    const json = await r.json()
    b.must(r.ok, `apart: ${method} ${path} answered ${r.status}: ${JSON.stringify(json).slice(0, 200)}`)
    return json
  }
  const made = (await api('POST', 'heads', { number: 'AP-1', title: 'Head of the masks', layout: { kind: 'inline', cylinders: 4, valves: 4, bore: '81 mm', intake_head: '31 mm', exhaust_head: '27 mm', unit: 'mm' } })).head
  const p = made.ports[0]
  let at = Date.now() - 3600e3
  const test = (to, how) => api('POST', 'tests', { job: made.id, port: p.id, source: 'count', unit: 'inHg', division: '0.1', at: (at += 120e3), readings: [{ time: '0', reading: '21' }, { time: '15', reading: to }], conditions: { held: 'own-spring', wet_with: 'nothing', guide: 'open', plugged: 'yes', state: 'cleaned', turned: true, placed: true, masked: [], ...how } })
  await test('9', { turned: false, placed: false })
  await test('9.5', {})
  const t = await b.tab(1440, 900, 'light')
  await t.goto(`${b.server.base}#/heads/${made.id}/ports/${p.id}`)
  await t.waitForSelector('.onething h3:has-text("Close the guides off")')
  b.must(!(await t.isVisible('.apartblock >> text=alone may pass')), 'apart: the forecast of the guides is open unasked')
  await t.click('button:has-text("What the guides may pass")')
  await t.waitForSelector('.apartblock >> text=alone may pass')
  await b.shot(t, 'apart-guide-1440-light', { fullPage: true })
  await t.click('button:has-text("What the guides may pass")')
  await test('9.2', { guide: 'closed-off' })
  await t.goto(`${b.server.base}#/heads/${made.id}/ports/${p.id}`)
  await t.waitForSelector('.onething h3:has-text("Mask the left valve")')
  await t.evaluate(() => document.fonts.ready)
  await b.shot(t, 'apart-plan-1440-light', { fullPage: true })
  await b.inspect(t, 'a mask asked for')
  await t.click('.onething a.button')
  await t.waitForSelector('.ready >> text=Grease the seat')
  b.must(/left/.test(await t.textContent('.ready .steps')), 'apart: the count does not say which seat to grease')
  await test('20.6', { masked: [p.valves[0]] })
  await test('9.4', { masked: [p.valves[1]] })
  await test('20.8', { masked: p.valves })
  await t.goto(`${b.server.base}#/heads/${made.id}/ports/${p.id}`)
  await t.waitForSelector('.apartblock h3:has-text("left valve leaks")')
  b.must(/true the seat|lap/i.test(await t.textContent('.onething h3')), 'apart: everything was tried, and no work is advised: ' + (await t.textContent('.onething h3')))
  await t.click('button:has-text("What this advice stands on")')
  await t.waitForSelector('.grounds')
  await b.shot(t, 'apart-advice-1440-light', { fullPage: true })
  await b.inspect(t, 'an advice and what it stands on')
  await t.click('button:has-text("What this advice stands on")')
  await t.close()
}
