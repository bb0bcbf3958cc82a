// The one way to the server: requests, what goes wrong with them, and the stream
// of changes.
import { effect, signal } from '@preact/signals'
import { useLayoutEffect, useRef, useState } from 'preact/hooks'
import type { Change, FieldFault, Settings, Words } from './types'

export class Wrong extends Error {
  quiet = false // found while typing: it does not take the focus
  constructor(public status: number, public what: string, public fix: string, public fields: FieldFault[], public now?: any) {
    super(what)
  }
}

/** The server has not answered lately. */
export const away = signal(false)

export async function call<T>(method: string, way: string, body?: unknown): Promise<T> {
  const form = body instanceof FormData
  let res: Response
  try {
    res = await fetch('/api/' + way, {
      method,
      headers: body && !form ? { 'Content-Type': 'application/json' } : undefined,
      body: body === undefined ? undefined : form ? body : JSON.stringify(body),
    })
  } catch {
    away.value = true
    throw new Wrong(0, 'The server does not answer.', 'What you typed is kept here. Start it again, then send once more.', [])
  }
  away.value = false
  return read<T>(res.status, await res.text())
}

function read<T>(status: number, text: string): T {
  let json: any = {}
  try {
    json = JSON.parse(text)
  } catch {
    if (status < 400) return text as T
  }
  if (status === 401) location.assign('/pair') // this device was forgotten; what was typed is kept
  if (status >= 400) {
    const e = json.error ?? { what: 'the server answered ' + status }
    throw new Wrong(status, sentence(e.what), e.do ? sentence(e.do) : '', e.fields ?? [], json.now)
  }
  return json as T
}

/** Sends a form with progress from 0 to 1. */
export function send<T>(way: string, form: FormData, progress: (part: number) => void): { done: Promise<T>; stop: () => void } {
  const x = new XMLHttpRequest()
  const done = new Promise<T>((good, bad) => {
    x.open('POST', '/api/' + way)
    x.upload.onprogress = e => e.lengthComputable && progress(e.loaded / e.total)
    x.onload = () => {
      try {
        good(read<T>(x.status, x.responseText))
      } catch (e) {
        bad(e)
      }
    }
    x.onerror = () => bad(new Wrong(0, 'The server does not answer.', 'The file is still where it was. Send it again.', []))
    x.onabort = () => bad(new Wrong(0, 'Stopped.', 'Nothing was filed.', []))
    x.send(form)
  })
  return { done, stop: () => x.abort() }
}

export const sentence = (s: string) => {
  const t = s.replace(/'/g, '’')
  return t ? t[0].toUpperCase() + t.slice(1) + (/[.?!]$/.test(t) ? '' : '.') : ''
}

// One stream a page. What it names is read again by whoever shows it. It begins
// where the shell was made, so that it may be opened after the first sheet is shown.
const change = signal<Change | null>(null)
export function listen() {
  const stream = new EventSource('/api/events?since=' + began)
  stream.addEventListener('change', e => (change.value = JSON.parse((e as MessageEvent).data)))
  stream.onopen = () => {
    if (away.peek()) change.value = { seq: -Math.random(), kind: '*', id: '', job: '', rev: 0 } // read all again
    away.value = false
  }
  stream.onerror = () => {
    away.value = true
    if (stream.readyState === EventSource.CLOSED) back() // refused, not lost: the next request says why
  }
}
const back = () => void call('GET', 'settings').then(listen, () => setTimeout(back, 3000))

export interface Got<T> {
  data: T | null
  wrong: Wrong | null
  again: () => void
  put: (data: T) => void
}

// What the first sheet shows, asked for before it is drawn, so that it is drawn once.
let early: { way: string; data: unknown } | null = null
let late = false

/** Asks for what the first sheet will ask for; it settles whatever comes of it. */
export const ahead = (way: string) => call('GET', way).then(data => void (late || (early = { way, data })), () => {})

/** The first sheet is drawn: what it did not take, or comes now, is nobody's. */
export function drawn() {
  late = true
  early = null
}

const stem = (way: string | null) => way?.split('?')[0]

/** Reads a way, and again whenever a change concerns it. What it had stays while
 * the same is asked for otherwise; an answer that a later one overtook is dropped. */
export function useGet<T>(way: string | null, concerns: (c: Change) => boolean): Got<T> {
  const [state, set] = useState<{ way: string | null; data: T | null; wrong: Wrong | null }>(() => ({ way, data: early?.way === way ? (early!.data as T) : null, wrong: null }))
  const asked = useRef(0)
  const load = () => {
    if (!way) return
    const mine = ++asked.current
    call<T>('GET', way).then(
      data => mine === asked.current && set({ way, data, wrong: null }),
      wrong => mine === asked.current && set(s => ({ way, data: stem(s.way) === stem(way) ? s.data : null, wrong })),
    )
  }
  useLayoutEffect(() => {
    if (early?.way !== way) load() // else it was shown at once; the stream tells of what came since
    let first = true
    return effect(() => {
      const c = change.value
      if (first) return void (first = false)
      if (c && (c.kind === '*' || concerns(c))) load()
    })
  }, [way])
  const mine = stem(state.way) === stem(way)
  return {
    data: mine ? state.data : null, wrong: mine ? state.wrong : null, again: load,
    put: data => {
      asked.current++ // what is under way is older
      set({ way, data, wrong: null })
    },
  }
}

export const words = signal<Words | null>(null)
export const settings = signal<Settings | null>(null)

let began = 0
let plotAddress = ''
let plotter: Promise<any> | undefined

/** What draws charts, fetched when the first is drawn. */
export const plotting = () => (plotter ??= import(plotAddress).then(m => m.default))

export function begin() {
  const b = JSON.parse(document.getElementById('begin')!.textContent!) // what the shell carries
  words.value = b.words as Words
  settings.value = b.settings as Settings
  began = b.seq
  plotAddress = b.plot
  effect(() => {
    if (change.value && ['settings', '*'].includes(change.value.kind)) call<Settings>('GET', 'settings').then(s => (settings.value = s), () => {})
  })
}

/** Changes settings, here at once and on the server when it answers. */
export function choose(part: Partial<Settings>) {
  const s = settings.peek()
  if (!s) return
  settings.value = { ...s, ...part }
  call<Settings>('PUT', 'settings', { rev: s.rev, ...part }).then(n => (settings.value = n), () => {})
}

export const wordOf = (list: { code: string; word: string }[], code: string) => list.find(w => w.code === code)?.word ?? code
