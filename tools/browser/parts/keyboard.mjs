// The whole job on a desktop by keyboard alone, the ring of the focus in sight
// at every stop. Keys and the page's clock are all that is used here.
export default async function (b) {
  const t = await b.tab(1440, 900, 'light')
  t.expected.push('422')
  await t.clock.install()
  let stops = 0
  const key = (k, n = 1) => Array.from({ length: n }).reduce(p => p.then(() => t.keyboard.press(k)), Promise.resolve())
  // ring tells whether the focused element, or the box or label it lies in, has an outline.
  const ring = () => t.evaluate(() => {
    const e = document.activeElement
    if (!e || e === document.body) return 'nothing has the focus'
    const seen = [e, e.closest('.box'), e.closest('label')].some(x => x && getComputedStyle(x).outlineStyle !== 'none' && parseFloat(getComputedStyle(x).outlineWidth) >= 2)
    const target = e.querySelector('.target') // a port in the drawing has its ring on its shape
    const drawn = target && getComputedStyle(target).stroke !== 'none' && parseFloat(getComputedStyle(target).strokeWidth) >= 2
    const r = (e.closest('label') ?? e).getBoundingClientRect()
    if (r.bottom < 0 || r.top > innerHeight) return `${e.tagName} is out of the window`
    return seen || drawn ? '' : `${e.tagName} ${(e.textContent || e.id).slice(0, 40)} has no ring`
  })
  // to goes by Tab until what is focused matches.
  const to = async (what, limit = 90) => {
    for (let i = 0; i < limit; i++) {
      await key('Tab')
      stops++
      const wrong = await ring()
      b.must(!wrong || wrong === 'nothing has the focus', `keyboard, on the way to ${what}: ${wrong}`)
      if (await t.evaluate(([sel, words]) => !!document.activeElement?.matches(sel) && document.activeElement.textContent.includes(words ?? ''), what.split(' | '))) return
    }
    throw new Error(`keyboard: ${what} is not reached by Tab`)
  }
  const count = async (shut, end) => {
    await t.waitForSelector('.ready')
    await key('Enter')
    await t.waitForSelector('.counting')
    await t.clock.runFor(3000)
    await key('Enter') // shut now
    await t.waitForSelector('text=valve shut, hands off')
    await t.clock.runFor(15500)
    await t.waitForSelector('.typing')
    await t.waitForFunction(() => document.activeElement?.matches('.needle input'))
    b.must(!await ring(), 'keyboard: the first figure: ' + await ring())
    await t.keyboard.type(shut)
    await to('.needle:nth-of-type(3) input')
    await t.keyboard.type(end)
    await key('Enter')
    await t.waitForSelector('.filed')
    return t.textContent('.verdictword')
  }
  await t.goto(b.server.base)
  await t.waitForSelector('.heads, .empty')
  await key(await t.locator('.empty').count() ? 'Enter' : 'n')
  await t.waitForSelector('#f-number')
  await to('#f-number')
  await t.keyboard.type('KB-1')
  await to('#f-layout-bore')
  await t.keyboard.type('72')
  await key('Enter')
  await t.waitForSelector('h2:has-text("No port tested yet.")')
  const id = new URL(t.url()).hash.split('/')[2]
  await key('Enter') // the one thing to do
  await t.waitForSelector('.held')
  await to('.held input') // what holds the valves: the arrows choose
  await key('ArrowRight', 3)
  b.must((await t.textContent('.held label.on')).includes('own springs'), 'keyboard: the arrows do not choose what holds the valves')
  b.must(!await ring(), 'keyboard: what holds the valves: ' + await ring())
  const first = await count('21.5', '21.25')
  await b.shot(t, 'keyboard-filed-1440')
  await key('Enter') // next
  await t.waitForFunction(() => document.querySelector('.who h2')?.textContent.includes('exhaust'))
  await t.waitForSelector('.ready')
  await to('a.button | Other ways')
  await key('Enter')
  await t.waitForSelector('.readings')
  for (const [cell, text] of [['#f-readings-0-reading', '21½'], ['#f-readings-1-reading', '21']]) {
    await to(cell)
    await t.keyboard.type(text)
  }
  await to('button | One more row')
  await key('Enter')
  await t.waitForFunction(() => document.activeElement?.matches('.readings tr:last-child input'))
  await t.keyboard.type('30')
  await key('Tab')
  await t.keyboard.type('20½')
  await b.shot(t, 'keyboard-table-1440')
  await key('Enter')
  await t.waitForSelector('.filed')
  await to('nav a | Job card')
  await key('Enter')
  await t.waitForSelector('.ports')
  await to('.port a')
  await key('Enter')
  await t.waitForSelector('.tests tbody tr')
  await key('w')
  await t.waitForSelector('text=To which valves')
  await to('button | Log it')
  await key('Enter')
  await t.waitForSelector('.ask-head >> text=lapsed')
  await key('a') // test again
  const second = await count('21.5', '21.5')
  await to('nav a | Ports')
  await key('Enter')
  await t.waitForSelector('.ports')
  await to('.port a')
  await key('Enter')
  await t.waitForSelector('.tests tbody tr')
  const sheet = t.url()
  await key('m')
  await t.waitForSelector('.move button kbd')
  await key('3')
  await t.waitForSelector('.undo')
  b.must(t.url() !== sheet, 'keyboard: a move by one key stays where it was')
  await b.shot(t, 'keyboard-moved-1440', { fullPage: true })
  await key('u')
  await t.waitForFunction(at => location.href === at, sheet)
  await t.waitForSelector('.ask-head')
  await t.waitForFunction(() => document.querySelectorAll('.tests tbody tr').length === 2)
  await to('.show > button | comes from')
  await key('Enter')
  await t.waitForSelector('.source')
  const opened = await t.textContent('.show:has(.source)')
  b.must(/docs\/model\.md/.test(opened) && /dp\/dt/.test(opened) && /Shares/.test(opened), 'keyboard: the figure opens without formula, source or shares')
  await b.shot(t, 'keyboard-port-1440', { fullPage: true })
  await to('nav a | Job card')
  await key('Enter')
  await t.waitForSelector('a[download]')
  await to('a[download] | Export')
  const [file] = await Promise.all([t.waitForEvent('download'), key('Enter')])
  b.must(file.suggestedFilename() === 'KB-1.zip', 'keyboard: the export is called ' + file.suggestedFilename())
  const { card } = await b.get('heads/' + id)
  b.must(card.rows.filter(r => r.tests).length === 2, 'keyboard: two ports were tested, the card has ' + card.rows.filter(r => r.tests).length)
  b.say(`the whole job by keyboard: ${first}, worked on, ${second}; ${stops} stops, each with its ring`)
  await t.close()
}
