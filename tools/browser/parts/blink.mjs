// A second tab sees a change at once; a server that blinks loses nothing. It takes the head of first-port.
import firstPort from './first-port.mjs'

export default async function (b) {
  if (!(await b.get('heads')).heads.length) await firstPort(b)
  const id = (await b.get('heads')).heads[0].id
  const desk = await b.tab(1440, 900, 'light')
  await desk.goto(`${b.server.base}#/heads/${id}`)
  await desk.waitForSelector('.ports')
  const before = await desk.textContent('.counts, .sum')
  await fetch(`${b.server.base}api/heads/${id}/work`, { method: 'POST', body: JSON.stringify({ kind: 'lapped', valves: [] }) })
  await desk.waitForSelector('.sum >> text=lapsed')
  b.must(!before.includes('lapsed'), 'the card was lapsed before any work')
  desk.expected.push('Failed to load resource', 'net::ERR', 'ERR_')
  await desk.goto(`${b.server.base}#/rigs/new`)
  await desk.fill('#f-name', 'Garage rig')
  await desk.fill('#f-division', '1/2')
  await b.again(async () => {
    await desk.click('button:has-text("Keep this rig")')
    await desk.waitForSelector('.trouble')
    b.must(await desk.inputValue('#f-name') === 'Garage rig', 'a form lost what was typed while the server was away')
  })
  await desk.click('button:has-text("Keep this rig")')
  await desk.waitForSelector('h1:has-text("Garage rig")')
  b.say('a form outlived the server')
  await desk.close()
}
