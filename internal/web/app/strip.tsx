// The strip of a session: the vacuum of the last two minutes, and beside it the
// hold, enlarged, with its limits and its fit. Drawn on a canvas of its own, so
// that a reading is painted with the next frame of the screen.
import { useLayoutEffect, useRef } from 'preact/hooks'
import { now, run } from './live'
import type { Point } from './types'

interface Room { left: number; top: number; width: number; height: number }
interface Scale { x0: number; x1: number; y0: number; y1: number }

/** Steps of 1, 2 or 5 that cut a span into about so many. */
export function ticks(lo: number, hi: number, about: number): number[] {
  const raw = (hi - lo) / about
  if (!(raw > 0)) return []
  const ten = 10 ** Math.floor(Math.log10(raw))
  const step = [1, 2, 5, 10].map(k => k * ten).find(s => s >= raw)!
  const out: number[] = []
  for (let k = Math.ceil(lo / step - 1e-6); k * step <= hi + step * 1e-6; k++) out.push(+(k * step).toFixed(6))
  return out
}

/** Highest and lowest of each column of pixels: a strip never has more points than it can show. */
function thin(p: Point[], from: number, to: number, columns: number): Point[] {
  const lo = lowerBound(p, from), hi = lowerBound(p, to)
  if (hi - lo <= 2 * columns) return p.slice(Math.max(0, lo - 1), hi)
  const out: Point[] = []
  let col = -1, min: Point | null = null, max: Point | null = null
  const flush = () => {
    if (!min || !max) return
    if (min === max) out.push(min)
    else if (min[0] < max[0]) out.push(min, max)
    else out.push(max, min)
  }
  for (let i = lo; i < hi; i++) {
    const c = Math.floor(((p[i][0] - from) / (to - from)) * columns)
    if (c !== col) {
      flush()
      col = c
      min = max = p[i]
    } else {
      if (p[i][1] < min![1]) min = p[i]
      if (p[i][1] > max![1]) max = p[i]
    }
  }
  flush()
  return out
}

function lowerBound(p: Point[], t: number): number {
  let lo = 0, hi = p.length
  while (lo < hi) {
    const mid = (lo + hi) >> 1
    if (p[mid][0] < t) lo = mid + 1
    else hi = mid
  }
  return lo
}

export function Strip({ hear }: { hear: (draw: () => void) => void }) {
  const ref = useRef<HTMLCanvasElement>(null)
  useLayoutEffect(() => {
    const el = ref.current!
    const g = el.getContext('2d')!
    let w = 0, h = 0, due = 0
    const colours: Record<string, string> = {}
    const look = () => {
      const css = getComputedStyle(document.documentElement)
      for (const k of ['ink', 'ink2', 'hair', 'red']) colours[k] = css.getPropertyValue('--' + k)
    }
    const draw = () => {
      due = 0
      if (w) paint(g, w, h, colours)
    }
    const ask = () => void (due ||= requestAnimationFrame(draw))
    const size = () => {
      w = el.clientWidth
      h = el.clientHeight
      el.width = Math.round(w * devicePixelRatio)
      el.height = Math.round(h * devicePixelRatio)
      ask()
    }
    look()
    size()
    hear(ask)
    const o = new ResizeObserver(size)
    o.observe(el)
    const dark = matchMedia('(prefers-color-scheme: dark)')
    const turn = () => (look(), ask())
    dark.addEventListener('change', turn)
    document.fonts?.ready.then(ask)
    return () => {
      cancelAnimationFrame(due)
      o.disconnect()
      dark.removeEventListener('change', turn)
      hear(() => {})
    }
  }, [])
  return <canvas ref={ref} class="stripchart" role="img" aria-label="The vacuum over time; the hold enlarged, with its limits" />
}

/** When the test under way was pulled and shut off, on the session's clock. */
function times() {
  const v = run.peek()?.view
  const t = v?.test
  return { pulled: t ? v!.now - t.pulled : NaN, shut: t?.held ? v!.now - t.held : NaN, of: t?.of_s || 30 }
}

function paint(g: CanvasRenderingContext2D, w: number, h: number, c: Record<string, string>) {
  const r = devicePixelRatio
  g.setTransform(r, 0, 0, r, 0, 0)
  g.clearRect(0, 0, w, h)
  const { pulled, shut, of } = times()
  const holds = isFinite(shut)
  const unit = run.peek()?.unit ?? ''
  const p = now.points
  const top = 30, bottom = 26
  const full: Room = { left: 52, top, width: holds ? Math.round(w * 0.23) : w - 52 - 16, height: h - top - bottom }
  const to = holds ? shut + 0.001 : now.t
  const from = Math.max(now.t - 120, isFinite(pulled) ? pulled - 5 : now.t - 60)
  const end = holds ? to : Math.max(to, from + 30)
  let high = 0
  for (let i = lowerBound(p, from); i < p.length; i++) if (p[i][1] > high) high = p[i][1]
  const most = Math.max(high * 1.03, tall(unit))
  const marks = ticks(0, most, 5)
  const s: Scale = { x0: from, x1: end, y0: 0, y1: most }
  pen(g, 14, c.ink, true)
  g.textAlign = 'left'
  g.fillText('vacuum, ' + unit, full.left, 16)
  grid(g, full, s, marks, c)
  if (isFinite(pulled)) chain(g, X(full, s, pulled), full, c.ink2)
  line(g, full, s, thin(p, from, to, full.width), c.ink, 2)
  pen(g, 14, c.ink2, false)
  if (isFinite(pulled)) {
    const at = X(full, s, pulled)
    g.textAlign = 'left'
    if (full.left + full.width - at > 40) g.fillText('pull', at + 10, full.top + full.height - 10)
    g.textAlign = 'right'
    if (at - full.left > 50) g.fillText('vented', at - 6, full.top + full.height - 10)
  }
  if (holds) hold(g, w, full, s, shut, of, c)
}

const tall = (unit: string) => ({ kPa: 60, mbar: 600, inHg: 18, mmHg: 450, psi: 9 })[unit] ?? 60 // of the scale before anything is pulled

/** The hold, from the shut-off to its planned end, as large as its fall and its limits let it be. */
function hold(g: CanvasRenderingContext2D, w: number, left: Room, ls: Scale, shut: number, of: number, c: Record<string, string>) {
  const p = now.points
  const room: Room = { left: left.left + left.width + 104, top: left.top, width: 0, height: left.height }
  const margin = w < 700 ? 24 : 118
  room.width = w - room.left - margin
  if (room.width < 80) return
  const span = Math.max(of, now.t - shut)
  const mine = thin(p, shut, now.t + 1, room.width)
  if (mine.length < 2) return
  let lo = Infinity, hi = -Infinity
  for (const q of mine) {
    lo = Math.min(lo, q[1])
    hi = Math.max(hi, q[1])
  }
  const limits = now.fit?.limits ?? []
  const least = Math.max(ls.y1 / 40, hi * 0.02)
  const deepest = Math.min(lo, ...limits.map(l => l.points[l.points.length - 1]?.[1] ?? lo))
  lo = Math.min(lo, Math.max(deepest, hi - Math.max(ls.y1 / 9, (hi - lo) * 2.2)), hi - least)
  const marks = ticks(lo, hi, 6)
  const step = marks.length > 1 ? marks[1] - marks[0] : hi - lo
  const s: Scale = { x0: 0, x1: span, y0: Math.max(0, Math.floor(lo / step + 1e-6) * step), y1: Math.ceil(hi / step - 1e-6) * step }
  const times = Math.round((ls.y1 - ls.y0) / (s.y1 - s.y0))
  pen(g, 14, c.ink, true)
  g.textAlign = 'left'
  g.fillText('hold', room.left, 16)
  const after = g.measureText('hold').width
  pen(g, 14, c.ink, false)
  if (times > 1) g.fillText(`, ${times} times larger`, room.left + after, 16)
  grid(g, room, s, ticks(s.y0, s.y1, 6), c)
  // where the piece lies in the whole
  const x = left.left + left.width
  g.strokeStyle = c.ink2
  g.lineWidth = 1
  const a = Y(left, ls, s.y1), b = Y(left, ls, s.y0)
  g.beginPath()
  g.moveTo(x + 4, a)
  g.lineTo(x + 10, a)
  g.lineTo(x + 10, b)
  g.lineTo(x + 4, b)
  g.moveTo(x + 10, a)
  g.lineTo(room.left - 46, room.top)
  g.moveTo(x + 10, b)
  g.lineTo(room.left - 46, room.top + room.height)
  g.stroke()
  pen(g, 14, c.ink2, false)
  g.textAlign = 'center'
  for (const t of ticks(0, span, Math.max(3, Math.min(8, Math.round(room.width / 90))))) g.fillText(t + (t >= span - 1e-6 ? ' s' : ''), X(room, s, t), room.top + room.height + 20)
  g.save()
  g.beginPath()
  g.rect(room.left, room.top - 4, room.width + 1, room.height + 5)
  g.clip()
  g.setLineDash([22, 4, 4, 4])
  for (const l of limits) line(g, room, s, l.points.map(q => [q[0] - shut, q[1]]), c.red, 2)
  g.setLineDash([])
  if (now.fit) line(g, room, s, now.fit.points.map(q => [q[0] - shut, q[1]]), c.ink2, 1.2)
  line(g, room, s, mine.map(q => [q[0] - shut, q[1]]), c.ink, 2.6)
  g.restore()
  const last = mine[mine.length - 1]
  const lx = X(room, s, last[0] - shut), ly = Y(room, s, last[1])
  name(g, room, s, limits.map(l => ({ words: l.words, points: l.points.map(q => [q[0] - shut, q[1]] as Point) })), margin, ly, c)
  g.fillStyle = c.ink
  g.beginPath()
  g.arc(lx, ly, 7, 0, 7)
  g.fill()
  if (now.t - shut < of) arrow(g, lx, X(room, s, of), room, ly, Math.ceil(of - (now.t - shut)), c)
}

/** The name of each limit: where it leaves the chart at its foot, or at the right of it, none over another. */
function name(g: CanvasRenderingContext2D, r: Room, s: Scale, limits: { words: string; points: Point[] }[], margin: number, trace: number, c: Record<string, string>) {
  pen(g, 14, c.red, false)
  g.textAlign = 'left'
  let floor = r.top + r.height - 10
  const right: { y: number; lines: string[] }[] = []
  for (const l of limits) {
    const out = l.points.find(q => q[1] < s.y0) ?? l.points[l.points.length - 1]
    if (!out) continue
    const wide = g.measureText(l.words).width + 14
    if (out[1] < s.y0) {
      const at = exit(r, s, l.points)
      g.fillText(l.words, at + wide < r.left + r.width ? at + 14 : Math.max(r.left + 8, at - wide - 22), floor)
      floor -= 20
    } else if (out[0] < s.x1 * 0.97 && X(r, s, out[0]) + wide < r.left + r.width) {
      const y = Y(r, s, out[1]) + 5 // beside the line's end, unless the trace runs there
      g.fillText(l.words, X(r, s, out[0]) + 10, Math.abs(y - trace) < 24 ? trace + 30 : y)
    }
    else if (margin > 60) right.push({ y: Y(r, s, Math.max(out[1], s.y0)), lines: breaks(g, l.words, margin - 12) })
  }
  right.sort((a, b) => b.y - a.y)
  let foot = r.top + r.height + 18
  for (const { y, lines } of right) {
    let at = Math.min(y + 5, foot - 17 * (lines.length - 1))
    foot = at - 19
    for (const part of lines) {
      g.fillText(part, r.left + r.width + 10, at)
      at += 17
    }
  }
}

/** Where a line that falls leaves the chart at its foot [px]. */
function exit(r: Room, s: Scale, p: Point[]): number {
  const i = p.findIndex(q => q[1] < s.y0)
  const a = p[i - 1] ?? p[i], b = p[i]
  const part = a[1] > b[1] ? (a[1] - s.y0) / (a[1] - b[1]) : 0
  return X(r, s, a[0] + part * (b[0] - a[0]))
}

function breaks(g: CanvasRenderingContext2D, words: string, wide: number): string[] {
  const out: string[] = []
  for (const w of words.split(' ')) {
    const last = out[out.length - 1]
    if (last !== undefined && g.measureText(last + ' ' + w).width <= wide) out[out.length - 1] = last + ' ' + w
    else out.push(w)
  }
  return out
}

/** A dimension arrow from now to the planned end, with the seconds to go. */
function arrow(g: CanvasRenderingContext2D, from: number, to: number, r: Room, below: number, left: number, c: Record<string, string>) {
  const y = r.top + 6
  g.strokeStyle = g.fillStyle = c.ink
  g.lineWidth = 1
  g.beginPath()
  g.moveTo(from, below)
  g.lineTo(from, r.top - 8)
  g.moveTo(to, r.top + r.height)
  g.lineTo(to, r.top - 8)
  g.stroke()
  const words = `${left} s to go`
  g.font = '700 17px B612, "DejaVu Sans", sans-serif'
  const wide = g.measureText(words).width + 14
  if (to - from < wide + 36) {
    g.textAlign = 'right'
    if (from - r.left > wide) g.fillText(words, from - 10, y + 6)
    return
  }
  const mid = (from + to) / 2
  g.beginPath()
  g.moveTo(from, y)
  g.lineTo(mid - wide / 2, y)
  g.moveTo(mid + wide / 2, y)
  g.lineTo(to, y)
  g.stroke()
  for (const [x, k] of [[from, 1], [to, -1]]) {
    g.beginPath()
    g.moveTo(x, y)
    g.lineTo(x + 12 * k, y - 4)
    g.lineTo(x + 12 * k, y + 4)
    g.fill()
  }
  g.textAlign = 'center'
  g.fillText(words, mid, y + 6)
}

const X = (r: Room, s: Scale, t: number) => r.left + ((t - s.x0) / (s.x1 - s.x0)) * r.width
const Y = (r: Room, s: Scale, v: number) => r.top + r.height - ((v - s.y0) / (s.y1 - s.y0)) * r.height

function pen(g: CanvasRenderingContext2D, size: number, colour: string, bold: boolean) {
  g.font = `${bold ? '700 ' : ''}${size}px B612, "DejaVu Sans", sans-serif`
  g.fillStyle = colour
  g.textBaseline = 'alphabetic'
}

function grid(g: CanvasRenderingContext2D, r: Room, s: Scale, marks: number[], c: Record<string, string>) {
  pen(g, 14, c.ink2, false)
  g.textAlign = 'right'
  g.lineWidth = 1
  for (const m of marks) {
    const y = Math.round(Y(r, s, m)) + 0.5
    if (y < r.top - 1) continue
    g.strokeStyle = c.hair
    g.beginPath()
    g.moveTo(r.left, y)
    g.lineTo(r.left + r.width, y)
    g.stroke()
    g.fillText(String(m), r.left - 9, y + 5)
  }
  g.strokeStyle = c.ink
  g.lineWidth = 1.6
  g.beginPath()
  g.moveTo(r.left, r.top)
  g.lineTo(r.left, r.top + r.height)
  g.lineTo(r.left + r.width, r.top + r.height)
  g.stroke()
}

function line(g: CanvasRenderingContext2D, r: Room, s: Scale, p: Point[], colour: string, wide: number) {
  g.strokeStyle = colour
  g.lineWidth = wide
  g.lineJoin = 'round'
  g.beginPath()
  p.forEach((q, i) => (i ? g.lineTo(X(r, s, q[0]), Y(r, s, q[1])) : g.moveTo(X(r, s, q[0]), Y(r, s, q[1]))))
  g.stroke()
}

function chain(g: CanvasRenderingContext2D, x: number, r: Room, colour: string) {
  g.save()
  g.setLineDash([16, 3, 3, 3])
  g.strokeStyle = colour
  g.lineWidth = 0.8
  g.beginPath()
  g.moveTo(x, r.top)
  g.lineTo(x, r.top + r.height)
  g.stroke()
  g.restore()
}

/** The hold in whole seconds, on a phone in the strip's place. */
export function Ruler({ t, of }: { t: number; of: number }) {
  const w = 660, x = (s: number) => 2 + (s / of) * (w - 4)
  const step = of > 20 ? 10 : 5
  const all = Array.from({ length: of + 1 }, (_, s) => s)
  return (
    <svg class="ruler" viewBox={`0 0 ${w} 74`} aria-hidden="true">
      <rect class="bar" x="2" y="22" width={Math.max(0, x(t) - 2)} height="24" />
      <path class="axis" d={`M2 46H${w - 2}` + all.map(s => `M${x(s)} 46V${s % step ? 32 : 8}`).join('')} />
      {all.filter(s => s % step === 0 || s === of).map(s => <text class="cap" x={x(s)} y="72" text-anchor={s === 0 ? 'start' : s === of ? 'end' : 'middle'}>{s}{s === of ? ' s' : ''}</text>)}
    </svg>
  )
}
