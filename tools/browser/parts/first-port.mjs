// The first port, on a phone, from nothing, by a pedal; the clock of the page runs fast.
export default async function (b) {
  const phone = await b.tab(390, 844, 'light')
  phone.expected.push('422') // figures are questioned on purpose
  await phone.clock.install()
  const began = Date.now()
  let steps = 0
  const tap = async (what) => { steps++; await phone.locator(what).first().click() }
  await phone.goto(b.server.base)
  await phone.waitForSelector('text=No head booked in yet.')
  await b.shot(phone, 'empty-390-light')
  await tap('text=Book in the first head')
  await phone.fill('#f-number', 'T-1')
  await phone.fill('#f-layout-bore', '34')
  await phone.fill('#f-layout-intake_head', '40')
  await phone.clock.runFor(1000)
  await phone.waitForSelector('.fault')
  b.must((await phone.locator('.fault').allTextContents()).some(t => t.includes('40')), 'a 40 mm valve in a 34 mm bore is not questioned at its field: ' + await phone.locator('.fault').allTextContents())
  await b.shot(phone, 'fault-390-light', { fullPage: true })
  await phone.fill('#f-layout-bore', '72')
  await phone.fill('#f-layout-intake_head', '')
  await phone.reload() // what was typed is kept
  await phone.waitForSelector('#f-number')
  b.must(await phone.inputValue('#f-number') === 'T-1', 'a form forgot what was typed when the page was loaded again')
  steps += 3
  await tap('button:has-text("Book it in")')
  await phone.waitForSelector('text=No port tested yet.')
  await tap('.next .first a.button')
  await phone.waitForSelector('text=How should the count be called?')
  await tap('label:has-text("on the screen only")')
  await b.shot(phone, 'count-ready-390-light')
  await phone.keyboard.press('Enter') // the pedal
  steps++
  await phone.waitForSelector('.counting')
  await phone.clock.runFor(9000)
  await phone.waitForSelector('text=valve shut, hands off')
  await phone.clock.runFor(5000)
  await b.shot(phone, 'count-hold-390-light')
  await phone.clock.runFor(11000)
  await phone.waitForSelector('text=When the pump was shut off')
  await phone.fill('.needle >> nth=0 >> input', '21½')
  await phone.fill('.needle >> nth=1 >> input', 'twenty')
  await tap('button:has-text("File it")')
  await phone.waitForSelector('.fault')
  b.must(await phone.inputValue('.needle >> nth=1 >> input') === 'twenty', 'what was typed is lost when it is wrong')
  phone.expected.push('422')
  await phone.fill('.needle >> nth=1 >> input', '21¼')
  b.must((await phone.textContent('.lostwords')).includes('¼ inHg'), 'the loss is not told in quarters: ' + await phone.textContent('.lostwords'))
  await b.shot(phone, 'count-typed-390-light')
  steps += 2
  await phone.locator('.needle >> nth=1 >> input').press('Enter')
  steps++
  await phone.waitForSelector('.filed')
  const verdict = await phone.textContent('.verdictword')
  b.must(/holds|leaks|can.t tell yet/.test(verdict), 'no verdict after the first count: ' + verdict)
  await b.shot(phone, 'count-filed-390-light')
  b.say(`first port: "${verdict}" after ${steps} steps and 24 s of counting (${Date.now() - began} ms of machine time)`)
  await phone.close()
}
