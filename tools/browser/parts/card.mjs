// The wall card of a rig: figures, the page drawn, and the PDF, on desktop and
// phone, light and dark. All readings are invented.
export default async function (b) {
  const api = async (method, path, body) => {
    const r = await fetch(b.server.base + 'api/' + path, { method, body: JSON.stringify(body) })
    const json = await r.json()
    b.must(r.ok, `card: ${method} ${path} answered ${r.status}: ${JSON.stringify(json).slice(0, 200)}`)
    return json
  }
  const { rig } = await api('POST', 'rigs', { name: '12 V pump, needle to 30 inHg', fields: { volume: '62 ± 3 cm³', 'pump.free_flow': '10 L/min', 'pump.blanked': '22.9 ± 0.3 inHg', rig_leak: '0.6 ± 0.3 cm³/min', 'port.volume': '95 ± 20 cm³', 'air.pressure': '100.6 kPa', 'air.temperature': '20 °C' }, division: '0.5', gauge_unit: 'inHg', kind: 'needle' })
  const { head } = await api('POST', 'heads', { number: 'WC-1', title: 'Wall card head', rig: rig.id, layout: { kind: 'inline', cylinders: 4, valves: 4, bore: '81 mm', intake_head: '31 mm', exhaust_head: '27 mm' } })
  for (const [w, h, scheme] of [[1440, 900, 'light'], [1440, 900, 'dark'], [390, 844, 'light'], [390, 844, 'dark']]) {
    const t = await b.tab(w, h, scheme)
    await t.goto(b.server.base + '#/rigs/' + rig.id)
    await t.click('a:has-text("Wall card")')
    await t.waitForSelector('.wallport')
    b.must((await t.locator('.wallport').count()) === 2, 'card: not one box a kind of port')
    const words = await t.textContent('.wallport >> nth=0')
    b.must(/loses no more than/.test(words) && /leaks over/.test(words) && /inHg/.test(words), 'card: figures missing: ' + words)
    b.must(/[¼½¾]/.test(await t.textContent('.wallsheet .left')), 'card: a needle in halves and quarters is shown in decimals')
    b.must(await t.locator('svg.wall').getAttribute('aria-label'), 'card: the drawing says nothing to who can not see it')
    await t.evaluate(() => document.fonts.ready)
    await b.shot(t, `wallcard-${w}-${scheme}`, { fullPage: true })
    await b.inspect(t, `wall card, ${w} px, ${scheme}`)
    await t.close()
  }
  const t = await b.tab(390, 844, 'light')
  await t.goto(`${b.server.base}#/rigs/${rig.id}/card`)
  await t.waitForSelector('.wallport')
  const pdf = await fetch(b.server.base.replace(/\/$/, '') + (await t.getAttribute('a:has-text("Print it")', 'href')))
  const bytes = Buffer.from(await pdf.arrayBuffer())
  b.must(pdf.headers.get('content-type') === 'application/pdf' && bytes.subarray(0, 5).toString() === '%PDF-', 'card: what is printed is no PDF')
  t.expected.push('422') // sizes that are none, on purpose
  // no head: the valves by themselves, what was typed stays
  await t.selectOption('#wallhead', 'none')
  await t.fill('#f-valves', 'thirty')
  await t.waitForSelector('.field.bad, .trouble, [role=alert]')
  b.must((await t.inputValue('#f-valves')) === 'thirty', 'card: what was typed is gone')
  b.must((await t.locator('.wallport').count()) === 0, 'card: figures of another head stand beside sizes that are none')
  await t.fill('#f-valves', 'intake 33 mm')
  await t.waitForSelector('.wallport h2:has-text("33 mm")')
  await b.shot(t, 'wallcard-valves-390', { fullPage: true })
  await t.click('label:has-text("own springs")')
  await t.waitForFunction(() => document.querySelectorAll('.wallport dl > div').length === 3)
  await t.close()
  b.must(head.id, 'card: no head')
  b.say('the wall card: figures, page and PDF, on desk and phone')
}
