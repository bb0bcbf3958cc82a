// A head goes out of one server and into another by the buttons, and says the same
// there; brought in twice it asks; a broken file says so.
import { readFileSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

const table = async (base, id) => (await fetch(`${base}api/heads/${id}/table.csv`)).text()

export default async function (b) {
  const ex = await b.example()
  const desk = await b.tab(1440, 900, 'light', { acceptDownloads: true })
  await desk.goto(`${b.server.base}#/heads/${ex}`)
  const files = {}
  for (const [words, name] of [['Export the head', 'EX-3.zip'], ['Table as CSV', 'EX-3.csv'], ['Table as XLSX', 'EX-3.xlsx']]) {
    const [d] = await Promise.all([desk.waitForEvent('download'), desk.click(`a:has-text("${words}")`)])
    b.must(d.suggestedFilename() === name, `${words} gives ${d.suggestedFilename()}, not ${name}`)
    files[name] = await d.path()
  }
  b.must(readFileSync(files['EX-3.csv'], 'utf8') === await table(b.server.base, ex), 'the CSV by the button is not that of the API')
  b.must(readFileSync(files['EX-3.xlsx']).subarray(0, 2).toString() === 'PK', 'the XLSX is no workbook')
  const zip = join(tmpdir(), `seatproof-${process.pid}-EX-3.zip`)
  writeFileSync(zip, readFileSync(files['EX-3.zip']))

  const o = await b.other()
  const phone = await b.tab(390, 844, 'light')
  try {
    phone.also = [o.base]
    phone.expected.push('409', '422') // refused on purpose
    await phone.goto(o.base)
    await phone.waitForSelector('.import input[type=file]')
    const pick = path => phone.setInputFiles('.import input[type=file]', path)
    await pick(zip)
    await phone.waitForSelector('.import [role=status]:has-text("Taken in")')
    await b.shot(phone, 'import-390-light')
    await phone.click('.import [role=status] a')
    await phone.waitForSelector('.ports tbody tr')
    const cells = t => t.$$eval('.ports tbody tr', rows => rows.map(r => r.textContent))
    const here = await cells(desk), there = await cells(phone)
    b.must(here.length > 5 && JSON.stringify(here) === JSON.stringify(there), `the table there is ${there}, and here ${here}`)
    const id = new URL(phone.url()).hash.split('/')[2]
    b.must(await table(o.base, id) === await table(b.server.base, ex), 'the two tables differ as CSV')

    await phone.goto(`${o.base}#/`)
    await phone.waitForSelector('.import input[type=file]')
    await pick(zip)
    await phone.waitForSelector('.import .trouble:has-text("is here already")')
    await b.inspect(phone, 'a head that is here already, 390 px')
    await b.shot(phone, 'import-twice-390-light')
    await phone.click('button:has-text("Import it as a copy")')
    await phone.waitForSelector('.import [role=status]:has-text("Taken in")')
    await phone.waitForFunction(() => document.querySelectorAll('.heads .no').length === 2)

    const broken = zip.replace('.zip', '-broken.zip')
    writeFileSync(broken, readFileSync(zip).subarray(0, 5000))
    await pick(broken)
    await phone.waitForSelector('.import .trouble:has-text("broken")')
    b.must((await phone.textContent('.import .trouble')).includes('othing was taken in'), 'a broken file does not say that nothing was taken in: ' + await phone.textContent('.import .trouble'))
    await b.shot(phone, 'import-broken-390-light')
    b.must((await (await fetch(o.base + 'api/heads')).json()).heads.length === 2, 'a broken file left something')
    b.say('a head was exported, imported elsewhere with the same table, again as a copy, and a broken file refused')
  } finally {
    await phone.close()
    await desk.close()
    await o.close()
  }
}
