// How long until the first page can be used.
export default async function (b) {
  const ex = await b.example()
  const quick = await b.tab(1440, 900, 'light')
  const times = []
  for (let i = 0; i < 5; i++) {
    await quick.goto('about:blank')
    await quick.goto(`${b.server.base}#/heads/${ex}`)
    await quick.waitForSelector('.ports')
    times.push(await quick.evaluate(() => Math.round(performance.now())))
  }
  b.say('job card shown after ' + times.join(', ') + ' ms')
  await quick.close()
}
