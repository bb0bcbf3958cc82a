// shots.mjs BASE CHROMIUM OUT ROUTES... : screenshots of sheets, for looking at.
import { chromium } from 'playwright-core'
const [, , base, executablePath, out, ...routes] = process.argv
const b = await chromium.launch({ executablePath, args: ['--no-sandbox', '--disable-gpu'] })
for (const [w, h, scheme] of [[1440, 900, 'light'], [390, 844, 'light'], [320, 640, 'dark']]) {
  const p = await b.newPage({ viewport: { width: w, height: h }, colorScheme: scheme })
  p.on('console', m => ['error', 'warning'].includes(m.type()) && console.log(w, m.text()))
  p.on('pageerror', e => console.log(w, String(e)))
  for (const r of routes) {
    const [name, hash] = r.split('=')
    await p.goto(base + '#' + hash)
    await p.reload()
    await p.waitForSelector('main')
    await p.waitForTimeout(500)
    await p.screenshot({ path: `${out}/${name}-${w}-${scheme}.png`, fullPage: true })
    const sw = await p.evaluate(() => document.documentElement.scrollWidth)
    if (sw > w) console.log('scrolls sideways', name, w, sw, await p.evaluate(() => [...document.querySelectorAll('body *')].filter(e => e.getBoundingClientRect().right > innerWidth + 1 && !e.closest('nav,.columns')).slice(0, 4).map(e => e.tagName + '.' + e.className)))
  }
  await p.close()
}
await b.close()
