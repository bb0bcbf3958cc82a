// What the leaks of the example head cost its engine: closed on the job card until
// asked for, then figures a cylinder, the curve and the table of other cylinders,
// at desktop and phone size, light and dark.
export default async function (b) {
  const ex = await b.example()
  for (const [w, h, scheme] of [[1440, 900, 'light'], [1440, 900, 'dark'], [390, 844, 'light'], [320, 640, 'dark']]) {
    const t = await b.tab(w, h, scheme)
    const asked = []
    t.on('request', r => r.url().endsWith('/loss') && asked.push(r.url()))
    await t.goto(`${b.server.base}#/heads/${ex}`)
    await t.waitForSelector('.losses button')
    b.must(asked.length === 0 && (await t.locator('.losscyl').count()) === 0, 'loss: it is reckoned before anybody asks')
    await t.click('.losses button:has-text("What the leaks cost this engine")')
    await t.waitForSelector('.losscyl')
    const words = await t.textContent('.losses')
    b.must((await t.locator('.losscyl').count()) === 3, 'loss: not one part a cylinder')
    b.must(/On the starter/.test(words) && /At idle/.test(words) && /At top speed/.test(words), 'loss: a way of turning is missing')
    b.must(/450 cm3|450 cm³/.test(words) && /limit/.test(words), 'loss: other cylinders or the limit are missing')
    b.must(/may be smaller in service/.test(words), 'loss: nothing is said of the seat under pressure')
    b.must(await t.getAttribute('.losses .chart svg', 'aria-label'), 'loss: the drawing says nothing to who can not see it')
    await t.evaluate(() => document.fonts.ready)
    await b.shot(t, `loss-${w}-${scheme}`, { fullPage: true })
    await b.inspect(t, `loss, ${w} px, ${scheme}`)
    await t.close()
  }
  b.say('what leaks cost, on desk and phone')
}
