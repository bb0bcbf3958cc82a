// The check of a rig, from nothing to a checked rig, on the make-believe one: on a
// live source while two screens watch, by hand, and from a recording. The intervals
// of the practice head's readings must shrink as it goes.
export default async function (b) {
  const before = await b.get('settings')
  const d = await b.tab(1440, 900, 'light'), ph = await b.tab(390, 844, 'light')
  d.expected.push('422')
  const sheet = b.server.base + '#/rigs/practice-rig-bare/check'
  const check = async () => (await b.get('rigs/practice-rig-bare/check')).check
  const kind = (c, name) => c.kinds.find(k => k.kind === name)
  /** Width of an interval over its middle, by its words: "7.2 to 11". */
  const wide = words => {
    const m = words.match(/^([\d.]+) to ([\d.]+)$/)
    return m ? (2 * (m[2] - m[1])) / (+m[1] + +m[2]) : NaN
  }
  const until = (t, f, arg, ms = 240000) => t.waitForFunction(f, arg, { timeout: ms, polling: 100 })

  // From nothing.
  await d.goto(b.server.base + '#/rigs')
  await d.click('button:has-text("Practise a rig check")')
  await d.waitForSelector('.kinds')
  await d.waitForSelector('.readings-of svg')
  await b.inspect(d, 'check: nothing checked yet')
  await b.shot(d, 'check-nothing-1440-light', { fullPage: true })
  const bare = await check()
  b.must(bare.kinds.every(k => k.state === 'none') && /Nothing of this rig has been checked/.test(bare.line), `check: a new rig says: ${bare.line}`)
  b.must(bare.narrow?.kind === 'volume' && /times as wide/.test(await d.textContent('.narrowing')), `check: what would narrow it most: ${JSON.stringify(bare.narrow)}`)
  b.must(bare.readings.of.length === 4, `check: ${bare.readings.of.length} readings of the practice head`)
  await ph.goto(sheet)
  await ph.waitForSelector('.readings-of svg')
  await b.inspect(ph, 'check: nothing checked yet, phone')
  await b.shot(ph, 'check-nothing-390-light', { fullPage: true })

  // Live: the sheet's own button; both screens follow.
  await d.click('label:has-text("10 times")')
  await d.click('button:has-text("Practise the check")')
  await d.waitForSelector('.checksteps')
  await ph.waitForSelector('.checksteps', { timeout: 10000 })
  await until(d, () => document.querySelector('.title1 h2')?.textContent === 'Blanked reading' && document.querySelector('[aria-current=step] b')?.textContent === 'Pull')
  await b.shot(d, 'check-blanked-1440-light')
  await until(d, () => document.querySelector('.title1 h2')?.textContent === 'Rig leak' && document.querySelector('[aria-current=step] b')?.textContent === 'Hold')
  await b.shot(d, 'check-rig-leak-1440-light')
  await b.shot(ph, 'check-rig-leak-390-light')
  await b.inspect(d, 'check: a hold on the blank')
  await b.inspect(ph, 'check: a hold on the blank, phone')
  const dark = await b.tab(1440, 900, 'dark'), pd = await b.tab(390, 844, 'dark')
  await dark.goto(sheet)
  await pd.goto(sheet)
  const c = await b.tab(1440, 900, 'light')
  await c.goto(b.server.base + '#/rigs')
  await c.close()
  const seen = []
  const watch = setInterval(async () => seen.push(await check().catch(() => null)), 1500)
  await until(d, () => document.querySelector('.title1 h2')?.textContent === 'Pump curve')
  await b.shot(dark, 'check-curve-1440-dark')
  await b.shot(pd, 'check-curve-390-dark')
  await until(d, () => document.querySelector('.rigcheck'))
  clearInterval(watch)
  await d.waitForTimeout(1500)
  const done = await check()
  for (const [name, want] of Object.entries({ 'gauge zero': ['passed'], 'blanked reading': ['passed', 'failed'], 'rig leak': ['passed'], 'known leak': ['passed'], volume: ['found'], 'pump curve': ['passed'], 'shut-off valve': ['passed', "can't tell yet"], dryness: ['passed', "can't tell yet"] })) {
    const k = kind(done, name)
    b.must(k.state === 'good' && want.includes(k.verdict) && k.value, `check: ${name} came to ${k.state}, ${k.word}, ${k.value}; ${k.says}`)
  }
  const volume = kind(done, 'volume').value.match(/([\d.]+) ± ([\d.]+)/)
  b.must(volume && Math.abs(volume[1] - 61.1) <= 1.2 * volume[2], `check: the volume reads ${kind(done, 'volume').value}; the practice rig's is 61.1 cm³`)
  for (const [i, x] of done.readings.of.entries()) {
    const was = wide(x.before), is = wide(x.now)
    b.must(is < 0.75 * was, `check: ${x.name}: ${x.before}, ${x.now}: the interval did not shrink`)
    b.must(wide(bare.readings.of[i].now) / was > 0.99, `check: ${x.name} was told by ${bare.readings.of[i].now} at first, and by ${x.before} without checks`)
  }
  b.must(/times as narrow/.test(done.readings.words), `check: the sheet says: ${done.readings.words}`)
  const steps = seen.filter(Boolean).map(x => x.readings.of.map(y => wide(y.now)).reduce((a, y) => a + y, 0))
  b.must(steps.length > 3 && steps.at(-1) < 0.8 * steps[0], `check: the intervals while it went on: ${steps.map(s => s.toFixed(2))}`)
  b.say(`check: intervals of the practice head as the check went on: ${bare.readings.of.map(x => x.now).join('; ')} cm³/min at first, ${done.readings.of.map(x => x.now).join('; ')} at last`)
  await b.inspect(d, 'check: checked on a live source')
  await b.shot(d, 'check-done-1440-light', { fullPage: true })
  await b.shot(dark, 'check-done-1440-dark', { fullPage: true })
  await b.shot(ph, 'check-done-390-light', { fullPage: true })
  await b.shot(pd, 'check-done-390-dark', { fullPage: true })

  // The chart of the blanked series, and the pump's curve.
  const open = async (t, name) => {
    const line = t.locator('.kindline', { hasText: name }).first()
    if ((await line.getAttribute('aria-expanded')) === 'false') await line.click()
  }
  for (const t of [d, ph, dark, pd]) {
    await open(t, 'Blanked reading')
    await open(t, 'Pump curve')
    await t.waitForSelector('.kindbody svg')
  }
  b.must((await d.getAttribute('.kindbody svg', 'aria-label')).startsWith('Blanked readings in order: 5 pulls'), 'check: the chart of the blanked series says ' + (await d.getAttribute('.kindbody svg', 'aria-label')))
  await b.inspect(d, 'check: charts')
  await b.inspect(pd, 'check: charts, phone, dark')
  await b.shot(d, 'check-charts-1440-light', { fullPage: true })
  await b.shot(dark, 'check-charts-1440-dark', { fullPage: true })
  await b.shot(ph, 'check-charts-390-light', { fullPage: true })
  await b.shot(pd, 'check-charts-390-dark', { fullPage: true })
  await open(d, 'Blanked reading')

  // By hand: what is wrong stands at its field, what was typed stays.
  await open(d, 'Gauge at a second point')
  const hand = d.locator('.kind', { hasText: 'Gauge at a second point' })
  await hand.locator('label:has-text("by a second gauge")').click()
  await d.fill('#f-second-gauge-class', '0.6')
  await d.fill('#f-second-gauge-span', '30 inHg')
  const pairs = [['0.04', '0'], ['5.9', '5.9'], ['11.8', '11.75'], ['17.7', '17,65'], ['22.5', '22.45']]
  for (const [i, [a, o]] of pairs.entries()) {
    await d.fill(`#f-second-gauge-${i}-reading`, a)
    await d.fill(`#f-second-gauge-${i}-other`, i === 2 ? '11.75 inGh' : o)
  }
  await hand.locator('button:has-text("Keep this check")').click()
  await d.waitForSelector('.kind .fault')
  b.must(/inGh is not known/.test(await hand.locator('.fault').first().textContent()), 'check: a unit nobody knows: ' + (await hand.locator('.fault').allTextContents()))
  b.must((await d.inputValue('#f-second-gauge-2-other')) === '11.75 inGh' && (await d.inputValue('#f-second-gauge-4-reading')) === '22.5', 'check: what was typed is gone')
  await b.inspect(d, 'check: wrong at a field')
  await b.shot(d, 'check-wrong-1440-light', { fullPage: true })
  await d.fill('#f-second-gauge-2-other', '11.75')
  await hand.locator('button:has-text("Keep this check")').click()
  await hand.locator('svg').waitFor()
  const gauge = kind(await check(), 'gauge')
  b.must(gauge.state === 'good' && gauge.way === 'second-gauge', `check: the second gauge came to ${JSON.stringify(gauge)}`)
  await b.inspect(d, 'check: the gauge’s line')
  await b.shot(d, 'check-gauge-1440-light', { fullPage: true })

  await open(ph, 'Volume of the rig')
  const vol = ph.locator('.kind', { hasText: 'Volume of the rig' })
  await vol.locator('label:has-text("by a syringe")').click()
  await ph.fill('#f-syringe-0-step', '10')
  await ph.fill('#f-syringe-0-before', '10')
  await ph.fill('#f-syringe-0-after', '12.72')
  await b.inspect(ph, 'check: a syringe, phone')
  await b.shot(ph, 'check-syringe-390-light', { fullPage: true })
  await vol.locator('button:has-text("Keep this check")').click()
  // read by eye to a hundredth it is wider than the two holds, and agrees: they go on speaking, and the sheet says so
  const since = /One made since, [\d.]+ ± [\d.]+ cm³, agrees with it and is wider/
  for (let i = 0; i < 100 && !since.test(kind(await check(), 'volume').says.join(' ')); i++) await ph.waitForTimeout(100)
  const both = kind(await check(), 'volume')
  b.must(both.way === 'two-holds' && since.test(both.says.join(' ')), `check: a syringe beside two holds: ${JSON.stringify(both)}`)
  b.must((await check()).log.some(l => l.kind === 'volume' && /narrower/.test(l.stale)), 'check: the log does not say why the syringe’s volume does not speak')

  // From a recording: a hold on the blank, written by a logger.
  let csv = 'time (s),vacuum (kPa)\n'
  for (let i = 0; i < 50 * 45; i++) {
    const t = i / 50
    const v = t < 4 ? 0 : t < 9 ? 77 * (1 - Math.exp(-(t - 4) / 0.6)) : t < 42 ? 76.98 - 0.018 * (t - 9) - 0.25 * (1 - Math.exp(-(t - 9) / 0.4)) : 76 * Math.exp(-(t - 42) / 0.15)
    csv += `${t.toFixed(2)},${(v + 0.03 * Math.sin(i * 2.3) + 0.02 * Math.cos(i * 5.1)).toFixed(3)}\n`
  }
  await open(d, 'Rig leak')
  await d.locator('.kind', { hasText: 'Rig leak' }).locator('input[type=file]').setInputFiles({ name: 'blank.csv', mimeType: 'text/csv', buffer: Buffer.from(csv) })
  for (let i = 0; i < 60 && kind(await check(), 'rig leak').id.includes('-rig-leak'); i++) await d.waitForTimeout(100)
  const leak = kind(await check(), 'rig leak')
  b.must(!leak.id.includes('-rig-leak') && /cm³\/min/.test(leak.value), `check: a recording of the blank came to ${JSON.stringify(leak)}`)

  // How long it is trusted is a person's; a new part makes old checks silent.
  await d.locator('.kind', { hasText: 'Gauge at a second point' }).locator('select').selectOption('7')
  for (let i = 0; i < 60 && kind(await check(), 'gauge').days !== 7; i++) await d.waitForTimeout(100)
  b.must(kind(await check(), 'gauge').days === 7, 'check: trusted for a week was not kept')
  await d.click('button:has-text("A part was changed")')
  await d.click('.show label:has-text("pump")')
  await d.click('button:has-text("Log the change")')
  await until(d, () => [...document.querySelectorAll('.kind')].find(k => k.textContent.startsWith('Pump curve'))?.classList.contains('none'))
  const after = await check()
  b.must(kind(after, 'pump curve').state === 'none' && kind(after, 'blanked reading').state === 'none' && kind(after, 'volume').state === 'good', 'check: a new pump: ' + after.kinds.map(k => k.kind + ' ' + k.state))
  await b.inspect(d, 'check: a part was changed')

  // The rig's own sheet, and a session that is refused while a check goes on.
  await d.goto(b.server.base + '#/rigs/practice-rig-bare')
  await d.waitForSelector('.standings')
  await b.inspect(d, 'check: the rig’s sheet')
  await b.shot(d, 'check-rig-1440-light', { fullPage: true })
  await ph.goto(b.server.base + '#/rigs/practice-rig-bare')
  await ph.waitForSelector('.standings')
  await b.inspect(ph, 'check: the rig’s sheet, phone')
  await b.shot(ph, 'check-rig-390-light', { fullPage: true })
  for (const t of [d, ph, dark, pd]) await t.close()
  await fetch(b.server.base + 'api/settings', { method: 'PUT', body: JSON.stringify({ vacuum_unit: before.vacuum_unit }) })
}
