// The straight way of a home builder, on two phones, each from an empty data
// folder: every step is counted, and none of them is more than one tap, one
// figure or one press of the pedal.
import { openBench } from '../bench.mjs'

export default async function (b) {
  for (const [w, h] of [[390, 844], [320, 640]]) {
    const own = await openBench(b.program, process.argv[3], b.out) // nothing booked in, no rig
    const t = await own.tab(w, h, 'light', { hasTouch: true })
    const steps = []
    const step = async (what, does) => {
      steps.push(what)
      await does()
    }
    const shot = name => own.shot(t, `straight-${name}-${w}`, { fullPage: true })
    await t.clock.install()
    await t.goto(own.server.base)
    await t.waitForSelector('text=No head booked in yet.')
    await step('Book in the first head', () => t.tap('text=Book in the first head'))
    await t.waitForSelector('#f-layout-bore')
    await step('its bore', () => t.fill('#f-layout-bore', '72'))
    await step('Book it in', () => t.tap('button:has-text("Book it in")'))
    await t.waitForSelector('text=No port tested yet.')
    await step('Test cylinder 1 intake', () => t.tap('.next .first a.button'))
    await t.waitForSelector('.held')
    own.must((await t.textContent('.held label.on')).includes('vacuum'), 'what holds the valves is not in sight')
    await step('held by a thumb, one tap', () => t.tap('.held label:has-text("thumb")'))
    await shot('ready')
    await own.inspect(t, `the count, ready, ${w} px`)
    await step('Start the count', () => t.tap('button:has-text("Start the count")'))
    own.must((await t.textContent('.oneline')).includes('test 1'), 'the first test is not called test 1: ' + await t.textContent('.oneline'))
    const began = await t.evaluate(() => performance.now())
    await t.clock.runFor(2500)
    await step('Shut now', () => t.tap('button:has-text("Shut now")'))
    await t.clock.runFor(7000)
    await shot('hold')
    await t.clock.runFor(8500)
    await t.waitForSelector('.typing')
    const hold = (await t.evaluate(() => performance.now()) - began) / 1000 - 2.5
    own.must(hold < 20, `a port that holds costs ${hold} s of holding`)
    await t.reload() // a phone that slept
    await t.waitForSelector('.typing')
    await step('21½', () => t.fill('.needle >> nth=0 >> input', '21½'))
    await step('Needle did not move', () => t.tap('button:has-text("Needle did")'))
    await shot('typed')
    await own.inspect(t, `the count, typing, ${w} px`)
    await step('File it', () => t.tap('button:has-text("File it")'))
    await t.waitForSelector('.filed')
    own.must((await t.textContent('.oneline')).includes('test 1'), 'the first test is called ' + await t.textContent('.oneline') + ' once it is filed')
    await shot('filed')
    await own.inspect(t, `the count, filed, ${w} px`)
    const again = await t.locator('button:has-text("Again")').boundingBox(), next = await t.locator('.filed [data-enter]').boundingBox()
    own.must(again.height >= 68 && next.height >= 68, `Again is ${again.height} px high, Next ${next.height}`)
    own.must(Math.max(next.y - again.y - again.height, again.y - next.y - next.height) >= 20, 'Again lies against Next')
    // a second test, stopped early with the needle still above a mark
    await t.tap('button:has-text("Again")')
    await t.waitForSelector('.since')
    await t.tap('button:has-text("Start the count")')
    own.must((await t.textContent('.oneline')).includes('test 2'), 'the second test is called ' + await t.textContent('.oneline'))
    await t.clock.runFor(8200)
    await t.waitForSelector('text=valve shut, hands off')
    await t.clock.runFor(9000)
    await t.tap('button:has-text("I have seen enough")')
    await t.waitForSelector('.typing')
    await t.fill('.needle >> nth=0 >> input', '21½')
    await t.fill('.needle >> nth=1 >> input', '21')
    await t.tap('.typing .tick')
    const label = await t.textContent('.needle >> nth=1 >> label')
    await t.tap('button:has-text("File it")')
    await t.waitForSelector('.filed')
    const heads = await own.get('heads')
    const tests = (await own.get('tests?job=' + heads.heads[0].id)).tests
    own.must(tests.length === 2, `${tests.length} tests were filed`)
    const file = await (await fetch(`${own.server.base}api/tests/${tests.find(x => /above/.test(JSON.stringify(x)))?.id ?? tests[1].id}/file`)).text()
    const both = (await Promise.all(tests.map(async x => (await fetch(`${own.server.base}api/tests/${x.id}/file`)).text()))).join('\n')
    own.must(/above/.test(both), 'still above was not filed: ' + file)
    const early = Number(both.match(/^([\d.]+),[\d.]+,above/m)?.[1])
    own.must(early > 8 && early < 10.5 && label.includes(String(early)), `a hold stopped after 9 s was filed as ${early} s, at the field ${label}`)
    own.must(tests.every(x => x.conditions.held === 'thumb'), 'what held the valves was not kept')
    const verdict = await t.textContent('.verdictword')
    own.must(/holds|can.t tell yet/.test(verdict), 'a needle that stands still does not hold: ' + verdict)
    b.say(`${w} px: the first port in ${steps.length} steps, ${hold.toFixed(0)} s of holding: ${steps.join(', ')}`)
    own.must(steps.length <= 10, `${steps.length} steps to the first port`)
    b.faults.push(...own.faults)
    await own.close()
  }
}
