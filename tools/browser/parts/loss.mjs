// The job card of the example head: both limits, what each verdict stands on and
// which valve leaks at a look; what the leaks cost the engine and would show in
// other tests in a line each once they are near, the figures when asked for. At
// desktop and phone size, light and dark.
export default async function (b) {
  const ex = await b.example()
  for (const [w, h, scheme] of [[1440, 900, 'light'], [1440, 900, 'dark'], [390, 844, 'light'], [320, 640, 'dark']]) {
    const t = await b.tab(w, h, scheme)
    const asked = []
    t.on('request', r => r.url().endsWith('/loss') && asked.push(r.url()))
    await t.goto(`${b.server.base}#/heads/${ex}`)
    await t.waitForSelector('.losses button')
    b.must(asked.length === 0 && (await t.locator('.losscyl').count()) === 0, 'loss: it is reckoned before it is near')
    const table = await t.textContent('.ports table'), result = await t.textContent('.result')
    b.must(/over both: 9\d %/.test(table) && /over 23: /.test(table) && /left valve/.test(table), 'job card: a verdict says not what it stands on: ' + table)
    b.must(/23cost 52/.test(table), 'job card: the second limit is missing: ' + table)
    b.must(/workmanship 20 to 23, cost \d+ to \d+ cm.*stricter/.test(result), 'job card: the limits are not told: ' + result)
    await t.click('.losses button:has-text("What the leaks cost this engine")')
    await t.waitForSelector('.losscyl')
    b.must(/loses most.* % of the peak pressure/.test(await t.textContent('.losses button small')), 'loss: no line beside its name')
    const words = await t.textContent('.losses')
    b.must((await t.locator('.losscyl').count()) === 3, 'loss: not one part a cylinder')
    b.must(/On the starter/.test(words) && /At idle/.test(words) && /At top speed/.test(words), 'loss: a way of turning is missing')
    b.must(/450 cm3|450 cm³/.test(words) && /limit/.test(words), 'loss: other cylinders or the limit are missing')
    b.must(/may be smaller in service/.test(words), 'loss: nothing is said of the seat under pressure')
    b.must(await t.getAttribute('.losses .chart svg', 'aria-label'), 'loss: the drawing says nothing to who can not see it')
    await t.click('.losses button:has-text("The same leaks in other tests")')
    await t.waitForSelector('.losses .others')
    const other = await t.textContent('.losses.other')
    b.must(/Leak-down: cylinder 2 would show least, .* psi.*Cranking gauge.*Liquid: first drop/.test(other), 'job card: other tests in a line: ' + other.slice(0, 300))
    b.must(/Paper wet after/.test(other) && /Needle below/.test(other), 'job card: the figures of other tests are missing')
    await t.evaluate(() => document.fonts.ready)
    await b.shot(t, `loss-${w}-${scheme}`, { fullPage: true })
    await b.inspect(t, `loss, ${w} px, ${scheme}`)
    await t.close()
  }
  b.say('what leaks cost, on desk and phone')
}
