// A person chooses a rig from parts: an invented list first, then a slip in a
// field, then parts of their own, on desk and phone.
export default async function (b) {
  for (const [width, height, scheme] of [[1440, 900, 'light'], [390, 844, 'dark']]) {
    const t = await b.tab(width, height, scheme)
    t.expected.push('422')
    const small = width < 500
    const name = 'choose-' + (small ? 'phone' : 'desktop')
    await t.goto(b.server.base + '#/rigs')
    await t.click('a:has-text("Choose a rig from parts")')
    await t.waitForSelector('h1:has-text("Choose a rig")')
    await b.shot(t, name + '-begin', { fullPage: true })
    await t.click('button:has-text("Try it with an invented list")')
    await t.waitForSelector('h2:has-text("Take:")')
    b.must((await t.textContent('h2:has-text("Take:")')).includes('small diaphragm pump'), 'the small pump is not the one to take')
    b.must((await t.textContent('.fieldask')).includes('Cubic feet'), 'cubic feet beside litres are not asked about')
    const ranked = await t.locator('.ranked li').count()
    b.must(ranked > 1 && await t.locator('.ranked li:has-text("the needle drops"):has-text("it pulls to")').count() === ranked, 'altitude is not told of each rig')
    b.must(await t.locator('.chart svg').count() === 1 && await t.locator('.sketch svg').count() === 1, 'chart or sketch is missing')
    b.must(await t.evaluate(() => document.activeElement?.textContent?.startsWith('Take:')), 'the result has no focus')
    await b.inspect(t, name)
    await b.shot(t, name, { fullPage: true })
    // a slip stands at its field, what was typed stays
    await t.fill('#f-pump-0-free_flow', '10 kPa')
    await t.click('button:has-text("Weigh them")')
    await t.waitForSelector('.field.bad')
    b.must(await t.inputValue('#f-pump-0-free_flow') === '10 kPa', 'what was typed is gone')
    await b.inspect(t, name + ', a slip')
    await b.shot(t, name + '-slip')
    // a bare figure takes the unit of its field; another pump beside it
    await t.fill('#f-pump-0-free_flow', '10')
    await t.click('button:has-text("One more pump")')
    await t.fill('#f-pump-3-name', 'tiny pump')
    await t.fill('#f-pump-3-free_flow', '2.5')
    await t.fill('#f-pump-3-blanked', '52')
    await t.click('button:has-text("Weigh them")')
    await t.waitForSelector('.marks >> text=tiny pump')
    // what is typed outlives the sheet
    await t.reload()
    await t.click('button:has-text("tiny pump: 2.5 L/min")')
    b.must(await t.inputValue('#f-pump-3-name') === 'tiny pump', 'the form lost what was typed')
    await t.click('button:has-text("Take tiny pump out")')
    b.must(await t.locator('#f-pump-3-name').count() === 0, 'the pump is still in the list')
    // what is weighed can be kept as a rig
    await t.click('button:has-text("Weigh them")')
    await t.click('button:has-text("Keep it as a rig")')
    await t.waitForSelector('h1:has-text("small diaphragm pump, sensor with a display")')
    await t.close()
  }
  b.say('a rig was chosen from parts, on desk and phone')
}
