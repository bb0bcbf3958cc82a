// Every sheet at every size: axe, targets, width, pictures.
export default async function (b) {
  const ex = await b.example()
  const on = `#/heads/${ex}`, last = 'p6'
  const sheets = {
    heads: '#/', new: '#/new', same: `#/heads/${ex}/same`, card: `#/heads/${ex}`, ports: `#/heads/${ex}/ports`, 'port-leaks': `#/heads/${ex}/ports/p2`, 'port-holds': `#/heads/${ex}/ports/p1`, 'port-tests': `#/heads/${ex}/ports/p3`, 'port-refused': `#/heads/${ex}/ports/p4`, 'port-lapsed': `#/heads/${ex}/ports/p6`,
    count: `#/heads/${ex}/count/p6`, table: `#/heads/${ex}/readings/p6`, marks: `#/heads/${ex}/readings/p6?way=marks`, steady: `#/heads/${ex}/readings/p6?way=steady`, work: `#/heads/${ex}/work`, 'work-port': `${on}/work/${last}`, sizes: `#/heads/${ex}/sizes`, upload: `#/heads/${ex}/upload/p6`,
    rigs: '#/rigs', rig: '', tray: '#/tray', first: '#/first', status: '',
  }
  const rig = (await (await fetch(b.server.base + 'api/rigs')).json()).rigs[0].id
  sheets.rig = '#/rigs/' + rig
  for (const [w, h, scheme] of [[1440, 900, 'light'], [1440, 900, 'dark'], [390, 844, 'light'], [320, 640, 'dark']]) {
    const t = await b.tab(w, h, scheme)
    for (const [name, hash] of Object.entries(sheets)) {
      await t.goto('about:blank')
      await t.goto(name === 'status' ? b.server.base + 'status' : b.server.base + hash)
      await t.waitForSelector('main')
      await t.evaluate(() => document.fonts.ready)
      await t.waitForTimeout(200)
      await b.shot(t, `${name}-${w}-${scheme}`, { fullPage: true })
      await b.inspect(t, `${name}, ${w} px, ${scheme}`)
      if (scheme !== 'light') continue
      await t.evaluate(() => document.documentElement.style.setProperty('filter', 'grayscale(1)'))
      await b.shot(t, `${name}-${w}-grey`, { fullPage: true })
    }
    await t.close()
  }
  b.say(`${Object.keys(sheets).length} sheets at 4 sizes, those in light colours in grey too`)
}
