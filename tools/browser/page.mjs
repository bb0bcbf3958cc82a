// page.mjs PAGE CHROMIUM opens a page that stands alone as a person would:
// desktop, phone and small phone, light and dark, and printed. It fails on a
// console error, a request to anywhere, a blank picture, something that sticks
// out sideways, words too faint to read, and a target too small for a finger.
import { chromium } from 'playwright-core'
import { existsSync } from 'node:fs'
import { dirname, join, resolve } from 'node:path'
import { pathToFileURL } from 'node:url'

const [, , page, executablePath] = process.argv
if (!page || !existsSync(page)) {
  console.error(`browser: there is no page ${page}; make demo writes it`)
  process.exit(2)
}
const url = pathToFileURL(resolve(page)).href
const browser = await chromium.launch({
  executablePath,
  args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
})
const faults = []
const sizes = [[1440, 900], [1024, 768], [390, 844], [320, 640]]

for (const [width, height] of sizes) {
  for (const colorScheme of ['light', 'dark']) {
    const name = `${width} px, ${colorScheme}`
    const fault = what => faults.push(`${name}: ${what}`)
    const tab = await browser.newPage({ viewport: { width, height }, colorScheme })
    tab.on('console', m => { if (['error', 'warning'].includes(m.type())) fault(`console: ${m.text()}`) })
    tab.on('pageerror', e => fault(`script: ${e}`))
    tab.on('request', r => { if (!r.url().startsWith('file:') && !r.url().startsWith('data:')) fault(`asks for ${r.url()}`) })
    await tab.goto(url)
    await tab.evaluate(() => document.fonts.ready)
    const seen = await tab.evaluate(look)
    if (seen.scroll > width) fault(`scrolls sideways: ${seen.scroll} px wide`)
    for (const f of seen.faults) fault(f)
    const shot = await tab.screenshot({ path: join(dirname(page), `page-${width}-${colorScheme}.png`), fullPage: true })
    const tones = await tab.evaluate(countTones, shot.toString('base64'))
    if (tones < 20) fault(`the picture is blank: ${tones} tones`)
    console.log(`browser: ${name}: ${seen.texts} texts, faintest contrast ${seen.faintest.toFixed(1)}, ${tones} tones`)
    await tab.close()
  }
}
// A4 less its margins is 182 mm, 688 px.
const tab = await browser.newPage({ viewport: { width: 688, height: 1000 } })
await tab.emulateMedia({ media: 'print' })
await tab.goto(url)
const printed = await tab.evaluate(look)
for (const f of printed.faults) if (!f.startsWith('target')) faults.push(`print: ${f}`)
if (printed.scroll > 688) faults.push(`print: ${printed.scroll} px wide, the paper has 688`)
const pdf = await tab.pdf({ format: 'A4', path: join(dirname(page), 'page.pdf'), preferCSSPageSize: true })
if (pdf.length < 10000) faults.push(`print: only ${pdf.length} bytes`)
await browser.close()

if (faults.length) {
  console.error(faults.map(f => `browser: ${f}`).join('\n'))
  process.exit(1)
}
console.log('browser: nothing wrong on any size')

// look runs in the page.
function look() {
  const faults = []
  const luminance = ([r, g, b]) => {
    const f = c => (c /= 255) <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4
    return 0.2126 * f(r) + 0.7152 * f(g) + 0.0722 * f(b)
  }
  const rgb = s => s.match(/[\d.]+/g).map(Number)
  const background = e => {
    for (; e; e = e.parentElement) {
      const c = rgb(getComputedStyle(e).backgroundColor)
      if (c.length === 3 || c[3] > 0.99) return c
    }
    return [255, 255, 255]
  }
  const hidden = e => e.closest('thead') && getComputedStyle(e.closest('thead')).position === 'absolute'
  let faintest = 99
  let texts = 0
  for (const e of document.querySelectorAll('body *')) {
    const box = e.getBoundingClientRect()
    if (!box.width || !box.height || hidden(e) || getComputedStyle(e).visibility === 'hidden') continue
    const words = [...e.childNodes].filter(n => n.nodeType === 3).map(n => n.data.trim()).join(' ').trim()
    if ((words || e.tagName === 'svg') && (box.right > innerWidth + 0.5 || box.left < -0.5))
      faults.push(`sticks out: <${e.tagName}> ${words.slice(0, 40)}`)
    if (!words) continue
    texts++
    const svg = e.closest('svg')
    const style = getComputedStyle(e)
    const front = rgb(svg ? style.fill : style.color)
    const plate = svg && e.classList.contains('on') ? getComputedStyle(svg.querySelector('.plate')).fill : null
    const back = plate ? rgb(plate) : background(e)
    const [a, b] = [luminance(front), luminance(back)].sort((x, y) => y - x)
    const ratio = (a + 0.05) / (b + 0.05)
    faintest = Math.min(faintest, ratio)
    if (ratio < 4.5) faults.push(`contrast ${ratio.toFixed(2)}: ${words.slice(0, 40)}`) // WCAG 2.2, 1.4.3
    if (e.tagName === 'A' && box.height < 48) faults.push(`target ${box.height.toFixed(0)} px high: ${words.slice(0, 40)}`) // a greasy finger; WCAG 2.2, 2.5.8 asks 24
    if (!svg && e.scrollWidth > e.clientWidth + 1 && e.clientWidth > 0 && style.display !== 'inline') faults.push(`words cut: ${words.slice(0, 40)}`)
  }
  const ids = [...document.querySelectorAll('[id]')].map(e => e.id)
  for (const id of new Set(ids)) if (ids.filter(i => i === id).length > 1) faults.push(`id ${id} twice`)
  for (const a of document.querySelectorAll('a[href^="#"]')) if (!document.getElementById(a.hash.slice(1))) faults.push(`dead link ${a.hash}`)
  for (const s of document.querySelectorAll('svg')) if (!s.getAttribute('aria-label') && s.getAttribute('aria-hidden') !== 'true') faults.push('a drawing without words')
  if (!document.title) faults.push('no title')
  if (!document.fonts.check('15px B612')) faults.push('typeface not loaded')
  return { scroll: document.documentElement.scrollWidth, faults, texts, faintest }
}

// countTones runs in the page and counts the colours of a screenshot.
async function countTones(base64) {
  const img = new Image()
  img.src = 'data:image/png;base64,' + base64
  await img.decode()
  const canvas = document.createElement('canvas')
  canvas.width = img.width
  canvas.height = Math.min(img.height, 4000)
  const g = canvas.getContext('2d')
  g.drawImage(img, 0, 0)
  const data = g.getImageData(0, 0, canvas.width, canvas.height).data
  const tones = new Set()
  for (let i = 0; i < data.length; i += 4 * 97) tones.add(data[i] << 16 | data[i + 1] << 8 | data[i + 2])
  return tones.size
}
