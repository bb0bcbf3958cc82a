// A head is put right after booking in: layout, sizes, two people at once, bin and
// history. It makes heads of its own.
const post = async (b, way, body, method = 'POST') => {
  const r = await fetch(b.server.base + 'api/' + way, { method, body: JSON.stringify(body) })
  const json = await r.json()
  if (!r.ok) throw new Error(`${method} ${way}: ${JSON.stringify(json)}`)
  return json
}
const layout = { kind: 'inline', cylinders: 2, valves: 4, bore: '72', stroke: '81.8', intake_head: '27', exhaust_head: '23' }
const counted = (job, port) => ({ job, port, source: 'count', unit: 'inHg', division: '1/2', readings: [{ time: '0', reading: '21½' }, { time: '15', reading: '21½' }], conditions: { held: 'own-spring', wet_with: 'nothing', guide: 'open', plugged: 'yes', state: 'cleaned' } })
const has = async (t, where, what) => (await t.locator(where).allTextContents()).some(x => x.replace(/\s+/g, ' ').includes(what))

export default async function (b) {
  const id = (await post(b, 'heads', { number: 'ED-1', layout })).head.id
  await post(b, 'tests', counted(id, 'p1'))
  const desk = await b.tab(1440, 900, 'light')
  desk.setDefaultTimeout(20000)
  desk.expected.push('422', '409')
  await whatFeedsWhat(b, desk, id)
  await sizes(b, desk, id)
  await toldTwice(b, id)
  await twoAtOnce(b, id)
  await bins(b, desk, id)
  await newSheet(b, desk)
  await looks(b, id)
  await desk.close()
}

/** A port is parted, a valve added, a slip refused at its port, a port with tests taken out. */
async function whatFeedsWhat(b, t, id) {
  await t.goto(`${b.server.base}#/heads/${id}/layout`)
  await t.waitForSelector('.ports-edit')
  await t.click('button:has-text("Change cylinder 1 intake")')
  await t.click('button:has-text("A port for each valve")')
  await t.waitForSelector('.ports-edit b:has-text("Cylinder 1 intake, right port")')
  b.must(await t.locator('.preview .mouth').count() === 5, `${await t.locator('.preview .mouth').count()} mouths are drawn, want 5`)
  await t.waitForSelector('.cap:has-text("5 ports")')
  await t.reload() // what was typed is kept
  await t.waitForSelector('.ports-edit b:has-text("Cylinder 1 intake, right port")')
  await t.click('button:has-text("Change cylinder 1 intake, right port")')
  await t.click('.inner fieldset:has-text("Which of the ports") label:has-text("left")')
  await t.waitForSelector('.ports-edit .fault')
  b.must(await has(t, '.ports-edit li.bad', 'say which is left and which right'), 'two ports of one name are not told at the port')
  await b.shot(t, 'layout-fault-1440-light', { fullPage: true })
  await t.click('.inner fieldset:has-text("Which of the ports") label:has-text("right")')
  await t.waitForFunction(() => !document.querySelector('.ports-edit .fault'))
  await t.click('button:has-text("Save")')
  await t.waitForSelector('text=Saved.')
  let card = (await b.get('heads/' + id)).card
  b.must(card.rows[0].word === 'lapsed' && card.rows[1].word === 'not tested', 'a port that was parted did not lapse: ' + JSON.stringify(card.rows.slice(0, 2)))
  await t.click('button:has-text("Take out cylinder 1 intake, left port")')
  await t.waitForSelector('button:has-text("Undo: put")')
  await t.click('button:has-text("Save")')
  await t.waitForSelector('.fault >> text=has a test')
  await t.click('button:has-text("Its tests go to the tray")')
  await t.waitForSelector('text=Saved.')
  const tray = (await b.get('tests?tray=1')).tests
  b.must(tray.some(x => x.source === 'count'), 'the test of a port that was taken out is not in the tray')
  // the valve and a port come again, under new identities
  await t.click('button:has-text("Add a port")')
  await t.click('.inner fieldset:has-text("Leads to cylinder") >> label:has-text("1")')
  await t.click('.inner fieldset:has-text("Leads to cylinder") >> label:has-text("2")')
  await t.click('.inner fieldset:has-text("Which of the ports") label:has-text("left")')
  await t.click('.inner fieldset:has-text("its place there") label:has-text("left")')
  await t.waitForFunction(() => !document.querySelector('.ports-edit .fault') && document.querySelectorAll('.preview .mouth').length === 5)
  await t.click('button:has-text("Save")')
  await t.waitForSelector('text=Saved.')
  const h = (await b.get('heads/' + id)).head
  b.must(h.ports.length === 5 && h.valves.length === 8, `${h.ports.length} ports and ${h.valves.length} valves, want 5 and 8`)
  b.must(!h.ports.some(p => p.id === 'p1'), 'the identity of a port that was taken out came back')
  // two ports become one, by the keyboard alone
  await t.locator('button:has-text("Change cylinder 2 exhaust")').focus()
  await t.keyboard.press('Enter')
  await t.selectOption('select[aria-label="Join cylinder 2 exhaust with"]', { label: 'cylinder 1 exhaust' })
  await t.waitForSelector('text=cylinders 1 and 2 share one of 4 valves')
  await t.click('button:has-text("Undo all")')
  b.say('ports and valves were parted, taken out, added and joined')
}

/** Several valves at once; faults at their fields; guesses shown as guesses. */
async function sizes(b, t, id) {
  await t.goto(`${b.server.base}#/heads/${id}/valves`)
  await t.waitForSelector('.several')
  const field = k => t.locator(`.several input[id$="-${k}"]`).first()
  await field('stem_diameter').fill('5,5')
  await field('seat_angle').fill('45')
  await field('guide_length').fill('38')
  await t.click('.several:has(h2:text-is("Valves")) button:has-text("All exhaust valves")')
  await field('head_diameter').fill('230')
  await t.click('label:has-text("nitrided")')
  await t.click('.several:has(h2:text-is("Valves")) button:text-is("All")')
  b.must((await field('stem_diameter').getAttribute('placeholder')).includes('differs'), 'stems that differ are not said to: ' + await field('stem_diameter').getAttribute('placeholder'))
  await t.click('.several:has(h2:text-is("Ports")) label:has-text("air passage")')
  await t.fill('#f-plugs-of', 'thermometer pocket')
  await t.click('button:text-is("Save")')
  await t.waitForSelector('.fault')
  b.must(await has(t, '.fault', '230 mm'), 'a head of 230 mm is not questioned at its field')
  await b.shot(t, 'valves-fault-1440-light', { fullPage: true })
  await t.click('.several:has(h2:text-is("Valves")) button:has-text("All exhaust valves")')
  await field('head_diameter').fill('23')
  await t.click('button:text-is("Save")')
  await t.waitForSelector('text=Saved.')
  const h = (await b.get('heads/' + id)).head
  const of = side => h.valves.filter(v => v.side === side)
  b.must(of('intake').every(v => v.stem_diameter?.text === '5.5 mm' && v.seat_angle?.text === '45°'), 'what was typed for all intake valves did not reach all')
  b.must(of('exhaust').every(v => v.coating === 'nitrided' && !v.stem_diameter), 'what was typed for the intake valves reached others')
  b.must(h.ports.filter(p => p.side === 'intake').every(p => p.plugs.join() === 'air passage,thermometer pocket'), 'openings: ' + JSON.stringify(h.ports.map(p => p.plugs)))
  await t.goto(`${b.server.base}#/heads/${id}/sizes`)
  await t.waitForSelector('#f-engine-rod')
  b.must(await t.getAttribute('#f-engine-rod', 'placeholder') === 'guessed 143 mm', 'the rod is ' + await t.getAttribute('#f-engine-rod', 'placeholder'))
  await t.fill('#f-engine-bore', '20')
  await t.fill('#f-engine-idle', '900')
  await t.click('button:text-is("Save")')
  await t.waitForSelector('.fault')
  b.must(await has(t, '.field.bad', '27 mm valve does not fit a 20 mm bore'), 'a 27 mm valve in a 20 mm bore is not questioned')
  b.must(await t.inputValue('#f-engine-idle') === '900', 'what was typed is gone after a fault')
  await t.fill('#f-engine-bore', '72,5')
  await t.click('label:has-text("a figure of my own")')
  await t.fill('#f-limit-flow', '20')
  await t.click('button:text-is("Save")')
  await t.waitForSelector('.ports')
  const e = (await b.get('heads/' + id)).head
  b.must(e.engine.bore.text === '72.5 mm' && e.limit.flow.text === '20 cm³/min', 'bore and limit were not saved')
  b.say('sizes of several at once, engine and limit')
}

/** What was saved comes back twice, by the stream's news and by the answer, in one
 * breath and the news first: the form is done with it all the same. */
async function toldTwice(b, id) {
  const t = await b.tab(1440, 900, 'light')
  t.expected.push('409') // a preview of what is being saved
  t.setDefaultTimeout(20000)
  await t.goto(`${b.server.base}#/heads/${id}/layout`)
  await t.waitForSelector('.ports-edit')
  await t.click('button:has-text("Add a port")')
  await t.waitForSelector('.ports-edit li:has-text(", new")')
  await t.evaluate(way => { // both answers are kept back until both are here; less than a frame apart
    const real = window.fetch, held = {}
    window.fetch = async (url, how) => {
      const kind = how?.method ?? 'GET'
      const mine = new URL(url, location).pathname.endsWith(way) && !String(url).includes('try=') && !held[kind]
      const r = await real(url, how)
      if (!mine) return r
      const text = await r.text()
      return new Promise(done => {
        held[kind] = () => done(new Response(text, r))
        if (held.GET && held.PUT) held.GET(), setTimeout(held.PUT, 0)
      })
    }
  }, '/api/heads/' + id)
  await t.click('button:text-is("Save")')
  await t.waitForSelector('text=Saved.')
  b.must(!(await t.locator('.ports-edit li:has-text(", new")').count()), 'what was saved stands as new again')
  await t.close()
  const h = (await b.get('heads/' + id)).head
  const added = h.ports.at(-1)
  await post(b, 'heads/' + id, { rev: h.rev, ports: [{ id: added.id, out: true }], valves: added.valves.map(v => ({ id: v, out: true })) }, 'PUT')
  b.say('a save told twice at once is told once')
}

/** Two tabs on one head: what both changed stands side by side, the rest is merged. */
async function twoAtOnce(b, id) {
  const [one, two] = [await b.tab(1440, 900, 'light'), await b.tab(390, 844, 'dark')]
  one.expected.push('409', '422'), two.expected.push('409', '422')
  one.setDefaultTimeout(20000), two.setDefaultTimeout(20000)
  for (const t of [one, two]) {
    await t.goto(`${b.server.base}#/heads/${id}/sizes`)
    await t.waitForSelector('#f-owner')
  }
  await two.fill('#f-owner', 'second owner')
  await two.fill('#f-engine-stroke', '82')
  await two.fill('#f-notes', 'mine alone')
  await one.fill('#f-owner', 'first owner')
  await one.fill('#f-engine-stroke', '83')
  await one.fill('#f-engine-rod', '140')
  await one.click('button:text-is("Save")')
  await two.waitForSelector('.clash')
  const rows = await two.locator('.clash .choice').allTextContents()
  b.must(rows.length === 2 && rows[0].includes('yours: second owner') && rows[0].includes('there now: first owner'), 'both are not side by side: ' + JSON.stringify(rows))
  b.must(await two.inputValue('#f-engine-rod') === '140', 'what only the other changed is not taken in')
  b.must(await two.locator('.clash button.ink').isDisabled(), 'a clash can be passed without choosing')
  await b.shot(two, 'clash-390-dark', { fullPage: true })
  await b.inspect(two, 'clash, 390 px, dark')
  await two.click('.clash label:has-text("yours: second owner")')
  await two.click('.clash label:has-text("there now: 83")')
  await two.click('.clash button:has-text("Go on with these")')
  await two.waitForFunction(() => !document.querySelector('.clash'))
  await two.click('button:text-is("Save")')
  await two.waitForSelector('.headline')
  const h = (await b.get('heads/' + id)).head
  b.must(h.owner === 'second owner' && h.engine.stroke.text === '83 mm' && h.notes === 'mine alone' && h.engine.rod.text === '140 mm', 'not what was chosen: ' + JSON.stringify([h.owner, h.engine.stroke, h.notes, h.engine.rod]))
  // a rig, as another form changes it
  const rig = (await post(b, 'rigs', { name: 'Rig of two', fields: { volume: '62' } })).rig
  await one.goto(`${b.server.base}#/rigs/${rig.id}`)
  await one.fill('#f-fields-volume', '70')
  await post(b, 'rigs/' + rig.id, { rev: 1, fields: { volume: '65', rig_leak: '2' } }, 'PUT')
  await one.waitForSelector('.clash')
  b.must((await one.textContent('.clash')).includes('there now: 65'), 'a rig that was changed elsewhere: ' + await one.textContent('.clash'))
  await one.click('.clash label:has-text("yours: 70")')
  await one.click('.clash button:has-text("Go on with these")')
  await one.click('button:text-is("Save")')
  await one.waitForFunction(() => document.querySelector('#f-fields-volume')?.value.startsWith('70') && !localStorage.getItem(Object.keys(localStorage).find(k => k.startsWith('edit rig')) ?? ''))
  const r = (await b.get('rigs/' + rig.id)).rig.fields
  b.must(r.find(f => f.key === 'volume').text.startsWith('70') && r.find(f => f.key === 'rig_leak').text.startsWith('2'), 'the rig is not what was chosen: ' + JSON.stringify(r.slice(0, 5)))
  // how it lies, and the conditions of a test
  await one.goto(`${b.server.base}#/heads/${id}`)
  await one.click('button:has-text("Turn or mirror")')
  await one.click('.turn label:has-text("at the right")')
  await one.fill('.turn input[type=text]', 'flywheel')
  await post(b, 'heads/' + id, { rev: h.rev, lie: { said: true, landmark: 'timing chain' } }, 'PUT')
  await one.waitForSelector('.turn .clash')
  await one.click('.clash label:has-text("yours: flywheel")')
  await one.click('.clash button:has-text("Go on with these")')
  await one.click('button:has-text("Draw it so")')
  await one.waitForFunction(() => !document.querySelector('.turn'))
  const l = (await b.get('heads/' + id)).head.lie
  b.must(l.landmark === 'flywheel' && !l.first_left, 'how it lies: ' + JSON.stringify(l))
  const test = (await post(b, 'tests', counted(id, 'p2'))).test
  await one.goto(`${b.server.base}#/heads/${id}/ports/p2`)
  await one.waitForSelector('.tests tbody tr')
  await one.click('button:has-text("Move")')
  await one.fill(`#f-note-${test.id}`, 'hose was kinked')
  await post(b, 'tests/' + test.id, { rev: 1, note: 'gauge was cold' }, 'PUT')
  await one.waitForSelector('.testedit .clash')
  await one.click('.clash label:has-text("yours: hose was kinked")')
  await one.click('.clash button:has-text("Go on with these")')
  await one.waitForFunction(() => !document.querySelector('.clash'))
  await one.click('button:has-text("Put it right")')
  await one.waitForSelector('.tests td >> text=hose was kinked')
  await one.waitForSelector('.story >> text=gauge was cold')
  await b.shot(one, 'testedit-1440-light', { fullPage: true })
  await b.inspect(one, 'a test put right, 1440 px')
  await one.close()
  await two.close()
  b.say('two tabs on one head: fields, lie and a test stood side by side')
}

/** Into the bin, undone where it stood, and out of it by one key. */
async function bins(b, t, id) {
  await t.goto(`${b.server.base}#/heads/${id}/ports/p2`)
  await t.waitForSelector('.tests tbody tr')
  await t.click('button:has-text("Move")')
  await t.click('button:has-text("To the bin")')
  await t.waitForSelector('.gone >> text=is in the bin')
  await t.click('.gone button:has-text("Undo")')
  await t.waitForFunction(() => !document.querySelector('.gone') && document.querySelector('.tests tbody tr th'))
  await t.click('button:has-text("Move")')
  await t.click('button:has-text("To the bin")')
  await t.waitForSelector('.gone')
  await t.goto(`${b.server.base}#/heads/${id}/sizes`)
  await t.waitForSelector('button:has-text("ED-1 to the bin")')
  await t.click('button:has-text("ED-1 to the bin")')
  await t.waitForSelector('.gone >> text=ED-1 is in the bin')
  await t.click('.gone button')
  await t.waitForFunction(() => !document.querySelector('.gone'))
  await t.click('button:has-text("ED-1 to the bin")')
  await t.waitForSelector('.gone')
  await t.goto(`${b.server.base}#/bin`)
  await t.waitForSelector('.heads li')
  await t.waitForSelector('.tray li')
  await b.shot(t, 'bin-1440-light', { fullPage: true })
  await b.inspect(t, 'bin, 1440 px')
  await t.keyboard.press('1')
  await t.waitForSelector('.gone >> text=ED-1 is out of the bin')
  await t.keyboard.press('1')
  await t.waitForSelector('.gone >> text=The test is on cylinder 1 exhaust again')
  await t.waitForSelector('text=The bin is empty.')
  await t.goto(`${b.server.base}#/heads/${id}/history`)
  await t.waitForSelector('.story')
  const told = await t.textContent('.story')
  for (const want of ['Booked in: 2 cylinders in line', 'owner nothing → first owner', 'put into the bin', 'taken out of the bin', 'added, for the', 'was moved from', 'the tray', 'nitrided']) b.must(told.replace(/\s+/g, ' ').toLowerCase().includes(want.toLowerCase()), `the history does not say "${want}"`)
  b.say('head and test went to the bin and came back; the history tells it')
}

/** Layouts in one step, as the New sheet draws and says them. */
async function newSheet(b, t) {
  await t.goto(`${b.server.base}#/new`)
  await t.waitForSelector('.newhead')
  const pick = (legend, word) => t.click(`fieldset:has(legend:text-is("${legend}")) label:has(span:text-is("${word}"))`)
  for (const [engine, cylinders, valves, intake, exhaust, mouths, says] of [
    ['inline', '4', '2', '1 and 2 share one, 3 and 4', 'the middle ones share one', 5, 'cylinders 3 and 4 share one of 2 valves'],
    ['inline', '2', '3', 'one a cylinder', 'one a cylinder', 4, 'Intake: a port for each cylinder, of 2 valves. Exhaust: a port for each cylinder, of 1 valve'],
    ['one bank of a vee', '3', '4', 'one a valve', 'one a cylinder', 9, '4, 5 and 6. 12 valves, 9 ports. Intake: 2 ports for each cylinder, one a valve'],
    ['one bank of a flat engine', '1', '5', 'one a cylinder', 'one a valve', 3, '5 valves, 3 ports. Intake: a port for each cylinder, of 3 valves'],
  ]) {
    await pick('Engine', engine)
    if (engine !== 'inline') await pick('Bank', 'the second')
    await pick('Cylinders of this head', cylinders)
    await pick('Valves a cylinder', valves)
    await pick('Intake ports', intake)
    await pick('Exhaust ports', exhaust)
    await t.waitForFunction(([n, s]) => document.querySelectorAll('.preview .mouth').length === n && document.querySelector('.says')?.textContent.includes(s), [mouths, says], { timeout: 20000 }).catch(async () => b.must(false, `${engine}, ${valves} valves: ${await t.locator('.preview .mouth').count()} mouths, "${await t.textContent('.says')}"`))
    await b.shot(t, `new-${engine.split(' ').pop()}-${valves}-1440-light`)
  }
  await t.fill('#f-number', 'ED-2')
  await t.click('button:has-text("Book it in")')
  await t.waitForSelector('h2:has-text("No port tested yet.")')
  const made = (await b.get('heads?find=ED-2')).heads[0]
  await t.goto(`${b.server.base}#/heads/${made.id}/same`)
  await t.waitForSelector('.preview svg')
  b.must((await t.textContent('.says')).includes('5 valves, 3 ports'), 'the same as that head is ' + await t.textContent('.says'))
  await b.shot(t, 'same-1440-light')
  await t.fill('#f-number', 'ED-3')
  await t.keyboard.press('Enter')
  await t.waitForSelector('h2:has-text("No port tested yet.")')
  b.say('four layouts, and the same as another, drawn and said')
}

/** Every sheet of editing at every size. */
async function looks(b, id) {
  for (const [w, h, scheme] of [[1440, 900, 'light'], [1440, 900, 'dark'], [390, 844, 'light'], [320, 640, 'dark']]) {
    const t = await b.tab(w, h, scheme)
    for (const sheet of ['sizes', 'valves', 'layout', 'history', 'bin']) {
      await t.goto('about:blank')
      await t.goto(`${b.server.base}#/${sheet === 'bin' ? 'bin' : `heads/${id}/${sheet}`}`)
      await t.waitForSelector('main')
      if (sheet === 'layout') {
        await t.waitForSelector('.preview svg')
        await t.locator('button:has-text("Change")').first().click()
        await t.waitForTimeout(300)
      }
      await t.evaluate(() => document.fonts.ready)
      await t.waitForTimeout(200)
      await b.shot(t, `edit-${sheet}-${w}-${scheme}`, { fullPage: true })
      await b.inspect(t, `${sheet}, ${w} px, ${scheme}`)
    }
    await t.close()
  }
}
