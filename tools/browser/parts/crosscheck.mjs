// Other tests: forecasts of a head's leaks, an observed figure entered, compared, put
// right, binned and back; on desktop and phone, light and dark. All readings invented.
export default async function (b) {
  const api = async (method, path, body) => {
    const r = await fetch(b.server.base + 'api/' + path, { method, body: JSON.stringify(body) })
    const json = await r.json()
    b.must(r.ok, `crosscheck: ${method} ${path} answered ${r.status}: ${JSON.stringify(json).slice(0, 200)}`)
    return json
  }
  const { rig } = await api('POST', 'rigs', { name: '12 V pump for other tests', fields: { volume: '62 ± 3 cm³', 'pump.free_flow': '10 L/min', 'pump.blanked': '22.9 ± 0.3 inHg', rig_leak: '0.6 ± 0.3 cm³/min', 'port.volume': '95 ± 20 cm³', 'air.pressure': '100.6 kPa', 'air.temperature': '20 °C' }, division: '0.5', gauge_unit: 'inHg', kind: 'needle' })
  const { head } = await api('POST', 'heads', { number: 'OT-1', title: 'Head for other tests', rig: rig.id, layout: { kind: 'inline', cylinders: 3, valves: 4, bore: '72 mm', stroke: '81.8 mm', intake_head: '27 mm', exhaust_head: '23 mm' } })
  await api('PUT', 'heads/' + head.id, { rev: head.rev, engine: { stroke: '81.8 mm', compression_ratio: '9.5 ± 0.3' } })
  const ends = ['21', '17½', '5', '20']
  for (let i = 0; i < ends.length; i++) await api('POST', 'tests', { job: head.id, port: head.ports[i].id, source: 'count', unit: 'inHg', division: '1/2', readings: [{ time: '0', reading: '21½' }, { time: '15', reading: ends[i] }], conditions: { held: 'own-spring', wet_with: 'nothing', guide: 'open', plugged: 'yes', state: 'cleaned' } })

  const t = await b.tab(1440, 900, 'light')
  t.expected.push('422') // figures that can not be, on purpose
  await t.goto(b.server.base + '#/heads/' + head.id + '/ports/' + head.ports[1].id)
  await t.click('.waysblock a:has-text("Other tests")')
  await t.waitForSelector('.others')
  b.must((await t.locator('tr.here').count()) === 1, 'crosscheck: the port one comes from is not marked')
  b.must((await t.locator('.others >> nth=0 >> tbody tr').count()) === 3, 'crosscheck: not one line a cylinder')
  const down = await t.textContent('.others >> nth=0')
  b.must(/psi/.test(down) && !/bar/.test(down), 'crosscheck: no leak-down or cranking figure: ' + down)
  const before = await t.textContent('.others >> nth=1')
  await t.click('label:has-text("water") >> nth=0')
  b.must((await t.textContent('.others >> nth=1')) !== before, 'crosscheck: another liquid shows the same times')
  await t.click('.left label:has-text("petrol")')
  b.must(/burns/.test(await t.textContent('.left .trouble')), 'crosscheck: petrol without its caution')

  // how the test is made: what is wrong stands at its field, what is typed stays
  await t.click('button:has-text("How the tests are made")')
  await t.fill('#f-orifice', '40')
  await t.waitForSelector('.field.bad #f-orifice')
  b.must((await t.locator('.others').count()) === 2, 'crosscheck: the figures go when a field is wrong')
  await t.fill('#f-orifice', '1.2')
  await t.waitForFunction(() => document.querySelectorAll('.others')[0].querySelectorAll('thead th').length === 5)

  // what was seen: refused, then kept, compared, put right, binned, back
  await t.click('.enter label:has-text("kerosene")')
  await t.click('.enter button:has-text("Compare it")')
  await t.waitForSelector('.enter .field.bad')
  await t.fill('#f-seen-after', '60 s')
  await t.click('.enter button:has-text("Compare it")')
  await t.waitForSelector('.seen')
  const cleared = () => t.waitForFunction(() => document.querySelector('#f-seen-after')?.value === '') // the stream may show it before the answer empties the form
  await cleared()
  b.must((await t.inputValue('#otherport')) === head.ports[2].id, 'crosscheck: after one port the next is not at hand')
  b.must(await t.isChecked('.enter label:has-text("kerosene") input'), 'crosscheck: the liquid does not stay for the next port')
  b.must(/less than/.test(await t.textContent('.seen')), 'crosscheck: a dry minute bounds nothing')
  await t.click('.enter label:has-text("leak-down")')
  await t.click('.enter label:has-text("2") >> nth=0')
  await t.fill('#f-seen-second', '20')
  await t.fill('#f-seen-supply', '80')
  await t.click('.enter button:has-text("Compare it")')
  await t.waitForFunction(() => document.querySelectorAll('.seen').length === 2)
  await t.waitForFunction(() => document.querySelector('#f-seen-second')?.value === '' && document.activeElement?.id === 'f-seen-second')
  b.must((await t.inputValue('#f-seen-supply')) === '80', 'crosscheck: the supply does not stay for the next cylinder')
  b.must(await t.isChecked('.enter label:has-text("3") >> nth=0 >> input'), 'crosscheck: after cylinder 2 the third is not at hand')
  b.must(/rings/.test(await t.textContent('.seen:has(h3:has-text("leak-down"))')), 'crosscheck: a low second gauge does not name the rings')
  await t.fill('#f-seen-second', '0')
  await t.click('.enter button:has-text("Compare it")')
  await t.waitForSelector('.enter button:has-text("This figure is right")')
  b.must(/supply is left/.test(await t.textContent('.enter .fault')), 'crosscheck: no pressure left is taken without a question')
  await t.fill('#f-seen-second', '')
  await t.click('.seen:has(h3:has-text("leak-down")) >> button:has-text("Put right")')
  await t.fill('#f-seen-second', '60')
  await t.click('.enter button:has-text("Save")')
  await t.waitForSelector('.seen:has-text("60 psi")')
  await t.click('.seen:has(h3:has-text("leak-down")) >> button:has-text("To the bin")')
  await t.waitForSelector('button:has-text("In the bin: 1")')
  await t.click('button:has-text("In the bin: 1")')
  await t.click('button:has-text("Put it back")')
  await t.waitForFunction(() => document.querySelectorAll('.seen').length === 2)
  for (const [cylinder, reading] of [[1, '12 bar'], [2, '8 bar']]) await api('POST', `heads/${head.id}/crosscheck`, { kind: 'cranking', cylinder, fields: { reading } })
  await t.waitForSelector('.noteblock:has-text("67 % of the highest")')
  b.must(/outside the published rule/.test(await t.textContent('.noteblock')), 'crosscheck: 8 of 12 bar is within the rule of 75 %')
  await t.goto(`${b.server.base}#/heads/${head.id}/history`)
  await t.waitForSelector('.story:has-text("was put right")')
  b.must(/liquid, cylinder 1.*was entered/i.test(await t.textContent('.story')), 'crosscheck: the history does not tell what was seen')
  await t.close()

  for (const [w, h, scheme] of [[1440, 900, 'light'], [1440, 900, 'dark'], [390, 844, 'light'], [390, 844, 'dark']]) {
    const t = await b.tab(w, h, scheme)
    await t.goto(`${b.server.base}#/heads/${head.id}/crosscheck`)
    await t.waitForSelector('.seen')
    await t.evaluate(() => document.fonts.ready)
    await b.shot(t, `crosscheck-${w}-${scheme}`, { fullPage: true })
    await b.inspect(t, `other tests, ${w} px, ${scheme}`)
    await t.close()
  }
  b.say('other tests: forecasts, a figure entered and compared, on desk and phone')
}
