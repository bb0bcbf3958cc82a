// The run that is under way: one stream a page, what it shows, and its keys.
import { signal } from '@preact/signals'
import { useEffect } from 'preact/hooks'
import { call, Wrong } from './api'
import type { Frame, Point, Run, Said } from './types'

const kept = 130 // s of points: the strip's two minutes and a little

/** The run, as the server last told it; null: none, undefined: not asked yet. */
export const run = signal<Run | null | undefined>(undefined)

/** No frame has come for a while: what is shown is not now. */
export const silent = signal(false)

/** What the strip and the figure are drawn from; changed with every frame. */
export const now = { t: 0, v: '', points: [] as Point[], fit: null as Frame['fit'] }

type Ear = (f: Frame) => void
const ears = new Set<Ear>()

const patience = 2500 // ms without a frame before the figure is taken away

function take(f: Frame) {
  if (f.run) {
    const was = run.peek(), t = f.run.view.test
    if (f.run.id !== was?.id) now.points = []
    if (!t?.held || t.test !== was?.view.test?.test) now.fit = null
    run.value = f.run
  }
  const last = now.points.length ? now.points[now.points.length - 1][0] : -Infinity
  for (const p of f.points ?? []) if (p[0] > last) now.points.push(p) // a stream that begins again tells the last two minutes again
  let old = 0
  while (old < now.points.length && now.points[old][0] < f.t - kept) old++
  if (old > 50) now.points.splice(0, old)
  now.t = f.t
  now.v = f.v
  if (f.fit) now.fit = f.fit // it comes with an estimate, and stands until the next or the end of its hold
}

/** Follows the run while a sheet shows it. */
export function useLive(ear: Ear) {
  useEffect(() => {
    ears.add(ear)
    return () => void ears.delete(ear)
  }, [])
  useEffect(() => {
    let stream: EventSource | undefined
    let again = 0, heard = performance.now()
    const open = () => {
      stream = new EventSource('/api/live/events')
      stream.addEventListener('frame', e => {
        heard = performance.now()
        const f: Frame = JSON.parse((e as MessageEvent).data)
        take(f)
        silent.value = false
        for (const x of ears) x(f)
      })
      stream.onerror = () => {
        if (stream!.readyState === EventSource.CLOSED) again = window.setTimeout(open, 1500)
      }
    }
    open()
    const watch = setInterval(() => {
      if (run.peek() && performance.now() - heard > patience) silent.value = true
    }, 500)
    return () => {
      stream!.close()
      clearTimeout(again)
      clearInterval(watch)
      now.points = []
      now.v = ''
      now.fit = null
    }
  }, [])
}

export const trouble = signal<Wrong | null>(null)
let busy = ''

/** What a person wants; the same again only after a while, so that a pedal that bounces goes one port on. */
export const press = (what: string, more: { port?: string; test?: number } = {}) => ask('live/key', what, { port: more.port ?? '', test: more.test ?? 0 })

/** Asks the run's relay to pull, hold or stop. */
export const pump = (what: 'pull' | 'stop') => ask('live/relay', what, {})

async function ask(way: string, what: string, more: object) {
  if (busy === what) return
  busy = what
  try {
    const r = await call<{ run: Run }>('POST', way, { do: what, ...more })
    if (r.run) run.value = r.run
    trouble.value = null
  } catch (e) {
    trouble.value = e as Wrong
  }
  setTimeout(() => (busy = busy === what ? '' : busy), 250)
}

export type { Said }
