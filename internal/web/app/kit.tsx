// What every sheet is made of.
import { useSignal, type Signal } from '@preact/signals'
import type { ComponentChildren } from 'preact'
import { useEffect, useLayoutEffect, useRef, useState } from 'preact/hooks'
import { away, settings, words, Wrong } from './api'
import type { Conditions, FieldFault, Named, Word } from './types'

/** Sets the cube of cm³, which the typeface has too small, and apostrophes. */
export function Say({ children }: { children?: string | null }) {
  const parts = (children ?? '').replace(/'/g, '’').split('³')
  return <>{parts.map((p, i) => (i ? <><sup>3</sup>{p}</> : p))}</>
}

const fills: Record<string, string> = { holds: 'holds', leaks: 'leaks', "can't tell yet": 'open', 'no verdict': 'open', lapsed: 'lapsed' }

/** A square in a state's hatch; its word always stands beside it. */
export function Swatch({ state, size = 28 }: { state: string; size?: number }) {
  const s = size - 1.5
  const kind = state === 'leaks' ? ' leaks' : state === 'not tested' ? ' none' : ''
  const crossed = state === 'refused' || state === 'unreadable'
  return (
    <svg class="sw" width={size} height={size} aria-hidden="true">
      <rect class={'o' + kind} x=".75" y=".75" width={s} height={s} />
      {fills[state] && <rect x=".75" y=".75" width={s} height={s} fill={`url(#${fills[state]})`} />}
      {crossed && <><line class="x" x1="1" y1="1" x2="98%" y2="98%" /><line class="x" x1="98%" y1="1" x2="1" y2="98%" /></>}
    </svg>
  )
}

export const StateWord = ({ state, word }: { state: string; word: string }) => <span class={'word ' + (state === 'leaks' ? 'leaks' : '')}><Say>{word}</Say></span>

/** A form's texts, kept where the browser keeps things until they are sent. */
export function useDraft<T extends object>(key: string, start: T): [T, (part: Partial<T>) => void, () => void] {
  const at = 'draft ' + key
  const [v, set] = useState<T>(() => {
    try {
      return { ...start, ...JSON.parse(localStorage.getItem(at) ?? '{}') }
    } catch {
      return start
    }
  })
  const change = (part: Partial<T>) =>
    set(old => {
      const n = { ...old, ...part }
      try {
        localStorage.setItem(at, JSON.stringify(n))
      } catch { /* a browser that keeps nothing still sends */ }
      return n
    })
  const clear = () => {
    localStorage.removeItem(at)
    set(start)
  }
  return [v, change, clear]
}

export const faultAt = (w: Wrong | null | undefined, field: string): FieldFault | undefined => w?.fields.find(f => f.field === field)

/** A field with its unit; what is wrong stands at it. */
export function Field(p: {
  label: string; value: string; onValue: (v: string) => void; unit?: string; hint?: string; wrong?: Wrong | null; field?: string; guess?: string
  type?: string; big?: boolean; mode?: string; list?: string[]; id?: string // where a field of that name stands elsewhere too
}) {
  const fault = faultAt(p.wrong, p.field ?? '')
  const id = 'f-' + (p.id ?? p.field ?? p.label).replace(/\W+/g, '-')
  const ref = useRef<HTMLInputElement>(null)
  useEffect(() => {
    if (fault && !p.wrong?.quiet && p.wrong?.fields[0] === fault) ref.current?.focus()
  }, [p.wrong])
  return (
    <div class={'field' + (fault ? ' bad' : '') + (!p.value && p.guess ? ' guessed' : '')}>
      <label for={id}>{p.label}</label>
      <div class="box">
        {fault && <span class="ask" aria-hidden="true">?</span>}
        <input ref={ref} id={id} class={p.big ? 'big' : ''} type={(p.type ?? 'text') as any} inputMode={p.mode as any} value={p.value} autocomplete="off" list={p.list && id + '-l'}
          placeholder={p.guess} aria-invalid={fault ? 'true' : undefined} aria-describedby={fault || p.hint ? id + '-d' : undefined}
          onInput={e => p.onValue((e.target as HTMLInputElement).value)} />
        {p.unit && <span class="unit"><span><Say>{p.unit}</Say></span></span>}
      </div>
      {p.list && <datalist id={id + '-l'}>{p.list.map(l => <option value={l} />)}</datalist>}
      {fault ? <p class="fault" id={id + '-d'}><b><Say>{fault.what}</Say></b> <Say>{fault.maybe}</Say></p> : p.hint && <p class="hint" id={id + '-d'}>{p.hint}</p>}
    </div>
  )
}

/** One of a few, each a finger's size. */
export function Choice(p: { label: string; words: Word[]; value: string; onValue: (v: string) => void }) {
  return (
    <fieldset class="choice">
      <legend>{p.label}</legend>
      <div>
        {p.words.map(w => (
          <label class={w.code === p.value ? 'on' : ''}>
            <input type="radio" name={p.label} checked={w.code === p.value} onChange={() => p.onValue(w.code)} />
            <span><Say>{w.word}</Say></span>
          </label>
        ))}
      </div>
    </fieldset>
  )
}

export function Tick(p: { label: string; value: boolean; onValue: (v: boolean) => void }) {
  return (
    <label class={'tick ' + (p.value ? 'on' : '')}>
      <input type="checkbox" checked={p.value} onChange={e => p.onValue((e.target as HTMLInputElement).checked)} />
      <span>{p.label}</span>
    </label>
  )
}

/** inView is true once the element has come near the window, and stays so. */
export function useInView(at: { current: HTMLElement | null }): boolean {
  const [seen, set] = useState(false)
  useEffect(() => {
    const o = new IntersectionObserver(all => all.some(e => e.isIntersecting) && (set(true), o.disconnect()))
    o.observe(at.current!)
    return () => o.disconnect()
  }, [])
  return seen
}

/** Hidden until asked for; remembered. What it comes to may stand beside its name. */
export function Show(p: { label: string; name: string; children: ComponentChildren; open?: boolean; says?: string }) {
  const key = 'show ' + p.name
  const open = useSignal(localStorage.getItem(key) === '1' || !!p.open)
  return (
    <section class="show">
      <button type="button" aria-expanded={open.value} onClick={() => {
        open.value = !open.value
        localStorage.setItem(key, open.value ? '1' : '0')
      }}><span><b><Say>{p.label}</Say></b>{p.says && <small><Say>{p.says}</Say></small>}</span><span>{open.value ? 'hide' : 'show'}</span></button>
      {open.value && <div>{p.children}</div>}
    </section>
  )
}

/** What went wrong with the whole of a request; what stands at a field is there. */
export function Trouble({ wrong }: { wrong: Wrong | null | undefined }) {
  if (!wrong || wrong.fields.length) return null
  return <p class="trouble" role="alert"><b><Say>{wrong.what}</Say></b> <Say>{wrong.fix}</Say></p>
}

/** What is odd may be so: then it is said once, and sent as it is. */
export function Insist({ wrong, yes }: { wrong: Wrong | null | undefined; yes: () => void }) {
  if (!wrong?.fields.length || !wrong.fields.every(f => f.ask)) return null
  return <button type="button" class="button" onClick={yes}>{wrong.fields.length > 1 ? 'These figures are right' : 'This figure is right'}</button>
}

export function TitleBlock({ rows }: { rows: Named[] }) {
  return <dl class="title">{rows.map((r, i) => <div class={i === 0 ? 'w' : ''}><dt>{r.name}</dt><dd><Say>{r.words}</Say></dd></div>)}</dl>
}

/** The frame of a sheet: its head, its ways, and what stands in it. */
export function Sheet(p: { number: string; title: string; line?: string; nav?: [string, string, boolean][]; act?: ComponentChildren; children: ComponentChildren; wide?: boolean; bench?: boolean; live?: boolean }) {
  useLayoutEffect(() => {
    document.title = [p.number, p.title].filter(Boolean).join(', ') + ', seatproof'
  }, [p.number, p.title])
  return (
    <main class={'sheet' + (p.wide ? ' wide' : '') + (p.bench ? ' bench' : '') + (p.live ? ' live' : '')}>
      <i class="c n" /><i class="c e" /><i class="c s" /><i class="c w" />
      <header class="head">
        <h1 tabIndex={-1}>{p.number}</h1>
        <p class="sub">{p.title}</p>
        <p class="oneline">{p.line}</p>
        {p.nav?.length !== 0 && <nav aria-label="Sheets">{(p.nav ?? home('')).map(([name, to, here]) => <a href={to} aria-current={here ? 'page' : undefined}>{name}</a>)}</nav>}
        {p.act}
      </header>
      {away.value && <p class="away" role="status"><b>The server does not answer.</b> What you type is kept on this device.</p>}
      {p.children}
    </main>
  )
}

export const home = (here: string): [string, string, boolean][] => [['Heads', '#/', here === 'heads'], ['Tray', '#/tray', here === 'tray'], ['Rigs', '#/rigs', here === 'rigs'], ['Bin', '#/bin', here === 'bin'], ['First port', '#/first', here === 'first'], ['Phone', '#/phone', here === 'phone']]

export const headNav = (id: string, here: string): [string, string, boolean][] => [
  ['Heads', '#/', false], ['Job card', `#/heads/${id}`, here === 'card'], ['Ports', `#/heads/${id}/ports`, here === 'ports'], ['Session', `#/heads/${id}/session`, here === 'session'],
  ['Work', `#/heads/${id}/work`, here === 'work'], ['Sizes', `#/heads/${id}/sizes`, here === 'sizes'], ['Other tests', `#/heads/${id}/crosscheck`, here === 'other'], ['Rig', '#/rigs', false],
]

/** A drawing made by the server, at the width there is. */
export function Drawing({ way, mark, cls, svg }: { way?: (width: number) => string; mark?: unknown; cls?: string; svg?: string }) {
  const ref = useRef<HTMLDivElement>(null)
  const width = useSignal(0)
  const drawn = useSignal('')
  useLayoutEffect(() => {
    if (!way) return // it is drawn already
    const look = () => ref.current && (width.value = Math.floor(ref.current.clientWidth))
    look()
    const o = new ResizeObserver(look)
    ref.current && o.observe(ref.current)
    return () => o.disconnect()
  }, [])
  const w = width.value
  useEffect(() => {
    if (!way || w < 60) return
    let still = true
    fetch(way(w)).then(r => (r.ok ? r.text() : '')).then(t => still && t && (drawn.value = t), () => {})
    return () => void (still = false)
  }, [w, mark, way?.(w)])
  return <div ref={ref} class={'drawing ' + (cls ?? '')} dangerouslySetInnerHTML={{ __html: svg ?? drawn.value }} />
}

/** How a test is made: one tap each, the last answer kept. */
export function How({ value, onValue, valves, rest }: { value: Conditions; onValue: (c: Conditions) => void; valves?: { id: string; name: string }[]; rest?: boolean }) {
  const w = words.value!
  const set = (part: Partial<Conditions>) => onValue({ ...value, ...part })
  return (
    <div class="how">
      {!rest && <Choice label="Valves held by" words={w.held} value={value.held} onValue={held => set({ held })} />}
      <Choice label="Seats" words={w.wet} value={value.wet_with} onValue={wet_with => set({ wet_with })} />
      {['petrol', 'acetone', 'isopropanol'].includes(value.wet_with) && <p class="trouble">{w.cautions[0]}</p>}
      <Choice label="Guides" words={w.guide} value={value.guide} onValue={guide => set({ guide })} />
      <Choice label="Other openings plugged" words={w.answer} value={value.plugged} onValue={plugged => set({ plugged })} />
      <Choice label="State" words={w.condition} value={value.state} onValue={state => set({ state })} />
      <div class="ticks">
        <Tick label="Valves turned and dropped since" value={value.turned} onValue={turned => set({ turned })} />
        <Tick label="Plate put down again" value={value.placed} onValue={placed => set({ placed })} />
        {valves && valves.length > 1 && valves.map(v => <Tick label={'Masked: ' + v.name} value={(value.masked ?? []).includes(v.id)} onValue={on => set({ masked: on ? [...(value.masked ?? []), v.id] : (value.masked ?? []).filter(x => x !== v.id) })} />)}
      </div>
    </div>
  )
}

export function howWords(c: Conditions): string {
  const w = words.value!
  const of = (l: Word[], code: string) => l.find(x => x.code === code)?.word ?? code
  const masked = c.masked?.length ? `, ${c.masked.length} masked` : ''
  return `valves held by ${of(w.held, c.held)}, seats ${of(w.wet, c.wet_with)}, guides ${of(w.guide, c.guide)}, ${of(w.condition, c.state)}${masked}`
}

export const usual = (): Conditions => ({ ...settings.value!.conditions, turned: false, placed: false, masked: [] })

/** Enter and the pedal press the one thing to do; a letter presses its key. */
export function keys() {
  addEventListener('keydown', e => {
    const t = e.target as HTMLElement
    const typing = /^(INPUT|TEXTAREA|SELECT)$/.test(t.tagName) && !/^(radio|checkbox)$/.test((t as HTMLInputElement).type)
    if (e.ctrlKey || e.metaKey || e.altKey || e.repeat) return // a pedal held down is one press
    if (e.key === 'Enter' && !/^(A|BUTTON|TEXTAREA|SELECT|SUMMARY)$/.test(t.tagName) && !(typing && t.closest('form'))) {
      const b = document.querySelector<HTMLElement>('[data-enter]:not(:disabled)')
      if (b) {
        e.preventDefault()
        b.click()
      }
    } else if (!typing && e.key.length === 1) {
      document.querySelector<HTMLElement>(`[data-key="${CSS.escape(e.key.toLowerCase())}"]`)?.click()
    }
  })
}

export const go = (to: string) => (location.hash = to)

export type { Signal }
