// The hold's chart, drawn on a canvas by uPlot in the sheet's own lines.
import { useLayoutEffect, useRef } from 'preact/hooks'
import type uPlot from 'uplot'
import { plotting } from './api'
import type { Chart, Point } from './types'

const dashes = [[], [8, 4], [2, 4], [12, 4, 2, 4], [1, 3]]

/** Puts every line on one row of times. */
function aligned(u: typeof uPlot, lines: Point[][]): uPlot.AlignedData {
  return u.join(lines.map(l => [l.map(p => p[0]), l.map(p => p[1])] as uPlot.AlignedData)) as uPlot.AlignedData
}

export function Plot({ chart, name }: { chart: Chart; name: string }) {
  const box = useRef<HTMLDivElement>(null)
  useLayoutEffect(() => {
    const el = box.current!
    let plot: uPlot | undefined
    const dark = matchMedia('(prefers-color-scheme: dark)')
    let u: typeof uPlot | undefined
    const draw = () => {
      if (!u) return
      plot?.destroy()
      plot = make(u, el, chart)
    }
    let gone = false
    plotting().then(it => {
      if (gone) return
      u = it
      draw()
    }, () => {}) // the figures beside it say the same
    let width = el.clientWidth
    const o = new ResizeObserver(() => {
      if (el.clientWidth !== width) {
        width = el.clientWidth
        draw()
      }
    })
    o.observe(el)
    dark.addEventListener('change', draw)
    document.fonts?.ready.then(draw)
    return () => {
      gone = true
      u = undefined
      o.disconnect()
      dark.removeEventListener('change', draw)
      plot?.destroy()
    }
  }, [chart])
  return <figure class="chart"><figcaption class="b">vacuum, {chart.unit}</figcaption><div ref={box} role="img" aria-label={`${name}: the hold over time${chart.fitted ? ', ' + chart.fitted : ''}`} /><p class="b mid">{chart.fitted ? 'seconds since the shut-off' : 'seconds of the recording'}</p></figure>
}

/** The vacuums of the chart: a needle that stands still does not fill it with its own width. */
function span(lo: number, hi: number): [number, number] {
  const low = Math.min(lo, hi * 0.92)
  return [Math.max(0, low - (hi - low) * 0.06), hi + (hi - low) * 0.06 + 0.02]
}

function make(U: typeof uPlot, el: HTMLElement, c: Chart): uPlot {
  const css = getComputedStyle(document.documentElement)
  const ink = css.getPropertyValue('--ink'), ink2 = css.getPropertyValue('--ink2'), hair = css.getPropertyValue('--hair'), red = css.getPropertyValue('--red'), paper = css.getPropertyValue('--paper')
  const width = el.clientWidth
  const phone = width < 520
  const font = `${phone ? 13 : 14}px B612, "DejaVu Sans", sans-serif`
  const bold = '700 ' + font
  const series: uPlot.Series[] = [{}]
  const lines: Point[][] = []
  const names: { at: Point; words: string; colour: string; font: string }[] = []
  const add = (pts: Point[], s: uPlot.Series, words?: string, colour = ink, f = font) => {
    if (!pts.length) return
    lines.push(pts)
    series.push({ ...s, spanGaps: true })
    if (words) names.push({ at: pts[pts.length - 1], words, colour, font: f })
  }
  const bands: uPlot.Band[] = []
  if (c.low.length && c.high.length) {
    add(c.high, { stroke: 'transparent', points: { show: false } })
    add(c.low, { stroke: 'transparent', points: { show: false } })
    bands.push({ series: [2, 1], fill: ink + '2b' }, { series: [1, 2], fill: ink + '2b' })
  }
  for (const l of c.limits) add(l.points, { stroke: red, width: 2, dash: [22, 4, 4, 4], points: { show: false } }, l.words, red, bold)
  c.traces.forEach((t, i) => add(t.points, { stroke: ink, width: 1.2, dash: dashes[i % dashes.length], points: { show: t.hand, size: 9, width: 1.5, stroke: ink, fill: paper } }, t.name))
  if (c.fit.length) add(c.fit, { stroke: ink, width: 2.6, points: { show: false } }, 'fitted', ink, bold)
  const pen = document.createElement('canvas').getContext('2d')!
  pen.font = bold
  const room = Math.ceil(Math.max(30, ...names.map(n => pen.measureText(n.words).width))) + 14
  return new U({
    width, height: phone ? 260 : Math.min(430, Math.round(width * 0.56)), padding: [8, room, 0, 0], cursor: { show: false }, legend: { show: false },
    scales: { x: { time: false, range: (_u, lo, hi) => [Math.max(0, lo), hi] }, y: { range: (_u, lo, hi) => span(lo, hi) } },
    axes: [
      { stroke: ink2, font, grid: { stroke: hair, width: 1 }, ticks: { show: false }, size: 30, border: { show: true, stroke: ink, width: 1.5 } },
      { stroke: ink2, font, grid: { stroke: hair, width: 1 }, ticks: { show: false }, size: 46, border: { show: true, stroke: ink, width: 1.5 } },
    ],
    series, bands,
    hooks: {
      draw: [u => {
        const g = u.ctx, r = devicePixelRatio
        const put = names.map(n => ({ ...n, y: u.valToPos(n.at[1], 'y', true) })).sort((a, b) => a.y - b.y)
        const gap = 17 * r
        for (let i = 1; i < put.length; i++) put[i].y = Math.max(put[i].y, put[i - 1].y + gap)
        const bottom = u.bbox.top + u.bbox.height
        for (let i = put.length - 1, floor = bottom; i >= 0; i--, floor -= gap) put[i].y = Math.min(put[i].y, floor)
        g.save()
        g.textAlign = 'left'
        g.textBaseline = 'middle'
        for (const n of put) {
          g.font = n.font.replace(/(\d+)px/, (_, s) => +s * r + 'px')
          g.fillStyle = n.colour
          g.fillText(n.words, u.bbox.left + u.bbox.width + 7 * r, n.y)
        }
        g.restore()
      }],
    },
  }, aligned(U, lines), el)
}
