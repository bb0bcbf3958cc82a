// Editing a record that others may edit too: what is typed is kept on this
// device, follows what changes elsewhere, and stands beside it where both changed
// the same.
import { useSignal } from '@preact/signals'
import { useLayoutEffect, useState } from 'preact/hooks'
import { call, settings, useGet, Wrong } from './api'
import { Choice, Field, How, Say, Trouble } from './kit'
import type { Both, Conditions, Happening, Head, Shown, Test } from './types'

/** Texts by the path of their key in the API: "valves.v1.head_diameter". */
export type Texts = Record<string, string>
interface Kept { base: Texts; rev: number; typed: Texts }
export interface Differs { key: string; mine: string; theirs: string }
export interface Edit {
  v: Texts
  typed: Texts // only what differs from the record
  set: (part: Texts) => void
  clear: () => void
  differs: Differs[] // changed here and elsewhere: to be settled before it is sent
  settle: (mine: string[]) => void // these stay as typed here, all others become theirs
  came: string[] // changed elsewhere and taken in, while something is typed here
}

/** One form on one record. `now` is the record as it is, at `rev`. */
export function useEdit(key: string, rev: number, now: Texts): Edit {
  const at = 'edit ' + key
  const [k, put] = useState<Kept>(() => {
    try {
      return JSON.parse(localStorage.getItem(at) ?? '') as Kept
    } catch {
      return { base: now, rev, typed: {} }
    }
  })
  const [came, setCame] = useState<string[]>([])
  // from what is held when it is put, not from what was drawn: an answer to a save may have cleared it since
  const keep = (next: (old: Kept) => Kept) => put(old => {
    const n = next(old)
    try {
      if (Object.keys(n.typed).length) localStorage.setItem(at, JSON.stringify(n))
      else localStorage.removeItem(at)
    } catch { /* a browser that keeps nothing still sends */ }
    return n
  })
  const news = rev !== k.rev
  const differs = news ? Object.keys(k.typed).filter(x => k.typed[x] !== (now[x] ?? '') && (now[x] ?? '') !== (k.base[x] ?? '')).map(x => ({ key: x, mine: k.typed[x], theirs: now[x] ?? '' })) : []
  const still = (typed: Texts) => Object.fromEntries(Object.entries(typed).filter(([x, t]) => t !== (now[x] ?? '')))
  useLayoutEffect(() => { // before anything else is typed on the old revision
    if (!news || differs.length) return
    const typed = still(k.typed)
    if (Object.keys(typed).length) setCame(old => [...new Set([...old, ...Object.keys({ ...k.base, ...now }).filter(x => now[x] !== k.base[x] && !(x in typed))])])
    keep(old => ({ base: now, rev, typed: still(old.typed) }))
  }, [rev, differs.length])
  return {
    v: { ...now, ...k.typed }, typed: k.typed, differs, came,
    set: part => keep(old => ({ ...old, typed: still({ ...old.typed, ...part }) })),
    clear: () => {
      setCame([])
      keep(old => ({ ...old, typed: {} }))
    },
    settle: mine => {
      const gone = differs.map(d => d.key).filter(x => !mine.includes(x))
      keep(old => ({ base: now, rev, typed: Object.fromEntries(Object.entries(old.typed).filter(([x]) => !gone.includes(x))) }))
    },
  }
}

/** What was typed here beside what is there now: each is kept or given up by itself. */
export function Clash({ edit, label, show }: { edit: Edit; label: (key: string) => string; show?: (key: string, text: string) => string }) {
  const [picks, pick] = useState<Texts>({})
  const words = (key: string, text: string) => show?.(key, text) || text || 'nothing'
  if (!edit.differs.length) {
    return edit.came.length ? <p class="cap" role="status">Changed elsewhere meanwhile and taken in: {[...new Set(edit.came.map(label))].join('; ')}.</p> : null
  }
  const open = edit.differs.filter(d => !picks[d.key])
  const all = (side: string) => pick(Object.fromEntries(edit.differs.map(d => [d.key, side])))
  return (
    <section class="clash" role="alert" aria-label="Changed here and elsewhere">
      <h3>Changed here and elsewhere. Both are kept until you choose.</h3>
      {edit.differs.map(d => <Choice label={label(d.key)} value={picks[d.key] ?? ''} onValue={side => pick({ ...picks, [d.key]: side })}
        words={[{ code: 'mine', word: 'yours: ' + words(d.key, d.mine) }, { code: 'theirs', word: 'there now: ' + words(d.key, d.theirs) }]} />)}
      <div class="row">
        {edit.differs.length > 1 && <><button type="button" class="button" onClick={() => all('mine')}>All as I have it</button><button type="button" class="button" onClick={() => all('theirs')}>All as it is there</button></>}
        <button type="button" class="button ink" disabled={open.length > 0} onClick={() => edit.settle(edit.differs.filter(d => picks[d.key] === 'mine').map(d => d.key))}>Go on with these</button>
      </div>
    </section>
  )
}

const yes = (s: string) => s === 'yes'
const list = (s: string) => s.split(',').map(x => x.trim()).filter(Boolean)
const words = (s: string) => s.split(/[ ,]+/).filter(Boolean)
const kinds: Record<string, (s: string) => unknown> = {
  strict: yes, no_cost: yes, same_side: yes, said: yes, chambers_up: yes, first_left: yes, intake_away: yes, new: yes, out: yes, plugs: list, valves: words, cylinders: s => words(s).map(Number), cylinder: Number,
}

/** The request that changes a head: only what was typed. */
export function asked(typed: Texts): Record<string, any> {
  const out: Record<string, any> = {}
  for (const [path, text] of Object.entries(typed)) {
    const parts = path.split('.')
    const last = parts.pop()!
    let at = out
    if (parts.length === 2) {
      const all = (out[parts[0]] ??= [])
      at = all.find((x: any) => x.id === parts[1])
      if (!at) all.push((at = { id: parts[1] }))
    } else if (parts.length) at = out[parts[0]] ??= {}
    at[last] = (kinds[last] ?? (s => s))(text)
  }
  return out
}

/** A figure without the unit that its field shows; a guess is no figure. */
export const given = (s: Shown | null | undefined) => {
  if (!s || s.guessed) return ''
  return s.text.endsWith(s.unit) ? s.text.slice(0, -s.unit.length).trim() : s.text
}
export const guessOf = (s: Shown | null | undefined, none = 'skip') => (s?.guessed ? 'guessed ' + s.text : none)

/** Sends what was typed of a head. */
export function useSave(head: Head, edit: Edit, again: () => void, done: (b: Both) => void) {
  const wrong = useSignal<Wrong | null>(null)
  const busy = useSignal(false)
  const save = (more: Record<string, unknown> = {}) => {
    if (edit.differs.length) return document.querySelector<HTMLElement>('.clash input')?.focus()
    busy.value = true
    return call<Both>('PUT', 'heads/' + head.id, { ...asked(edit.typed), rev: head.rev, by: settings.value!.initials, ...more }).then(r => {
      edit.clear()
      wrong.value = null
      done(r)
    }, (e: Wrong) => {
      wrong.value = e
      if (e.status === 409) again() // both are shown then
    }).finally(() => (busy.value = false))
  }
  return { wrong: wrong.value, busy: busy.value, save, forget: () => (wrong.value = null) }
}

/** Faults at fields that another sheet of the head holds. */
export function Elsewhere({ wrong, here, id }: { wrong: Wrong | null; here: (field: string) => boolean; id: string }) {
  const rest = wrong?.fields.filter(f => !here(f.field)) ?? []
  if (!rest.length) return null
  const sheet = (f: string) => (/^(valves|ports)\..*\.(head_|stem_|contact_|seat_|face_|guide_|seal|coating|volume|plugs)/.test(f) ? 'valves' : /^(valves|ports|engine\.(numbers|cylinders|form))/.test(f) ? 'layout' : 'sizes')
  return <ul class="trouble" role="alert">{rest.map(f => <li><b><Say>{f.what}</Say></b> <Say>{f.maybe}</Say> <a href={`#/heads/${id}/${sheet(f.field)}`}>On its own sheet</a></li>)}</ul>
}

/** The sheets of one head's data. */
export function Tabs({ id, here }: { id: string; here: string }) {
  const all: [string, string][] = [['sizes', 'Head, engine, limit'], ['valves', 'Valves and ports: sizes'], ['layout', 'What feeds what'], ['history', 'History']]
  return <p class="row tabs way" role="group" aria-label="Of this head">{all.map(([way, name]) => <a class={'button' + (way === here ? ' ink' : '')} aria-current={way === here ? 'page' : undefined} href={`#/heads/${id}/${way}`}>{name}</a>)}</p>
}

/** A head in the bin says so wherever it is shown, and comes back from there. */
export function BinnedHead({ head, again }: { head: Head; again: () => void }) {
  const wrong = useSignal<Wrong | null>(null)
  if (!head.binned) return null
  return <div class="gone" role="status"><p><b>{head.number} is in the bin.</b> Nothing of it is lost.</p><button type="button" class="button" onClick={() => call('POST', `heads/${head.id}/unbin`, { rev: head.rev, by: settings.value!.initials }).then(again, e => (wrong.value = e))}>Undo: take it out again</button><Trouble wrong={wrong.value} /></div>
}

/** A test that went to the bin a moment ago, where it stood. */
export function BinnedTest({ test, done }: { test: Test; done: (t: Test) => void }) {
  const wrong = useSignal<Wrong | null>(null)
  return <div class="gone" role="status"><p><b>The test of {test.when} is in the bin.</b></p><button type="button" class="button" onClick={() => call<{ test: Test }>('POST', `tests/${test.id}/unbin`, { rev: test.rev, by: settings.value!.initials }).then(r => done(r.test), e => (wrong.value = e))}>Undo</button><Trouble wrong={wrong.value} /></div>
}

const conditionKeys = ['held', 'wet_with', 'guide', 'plugged', 'state', 'turned', 'placed', 'masked'] as const
const conditionNames: Record<string, string> = { held: 'Valves held by', wet_with: 'Seats', guide: 'Guides', plugged: 'Other openings plugged', state: 'State', turned: 'Turned and dropped', placed: 'Plate put down again', masked: 'Masked', note: 'Note', by: 'Made by' }

const testTexts = (t: Test): Texts => ({
  note: t.note, by: t.by,
  ...Object.fromEntries(conditionKeys.map(k => [k, k === 'masked' ? (t.conditions.masked ?? []).join(' ') : String(t.conditions[k])])),
})
const conditionsOf = (v: Texts): Conditions => ({
  held: v.held, wet_with: v.wet_with, guide: v.guide, plugged: v.plugged, state: v.state, turned: v.turned === 'true', placed: v.placed === 'true', masked: words(v.masked),
})

/** How a test was made and its note can be put right; its readings never change. */
export function TestEdit({ test, valves, done }: { test: Test; valves?: { id: string; name: string }[]; done: () => void }) {
  const edit = useEdit('test ' + test.id, test.rev, testTexts(test))
  const wrong = useSignal<Wrong | null>(null)
  const c = conditionsOf(edit.v)
  return (
    <form class="testedit" onSubmit={e => {
      e.preventDefault()
      if (edit.differs.length) return
      call('PUT', 'tests/' + test.id, { rev: test.rev, conditions: c, note: edit.v.note, by: edit.v.by }).then(() => (edit.clear(), (wrong.value = null), done()), (e: Wrong) => {
        wrong.value = e
        if (e.status === 409) done()
      })
    }}>
      <h3>How it was made</h3>
      <How value={c} valves={valves} onValue={n => edit.set(Object.fromEntries(conditionKeys.map(k => [k, k === 'masked' ? (n.masked ?? []).join(' ') : String(n[k])])))} />
      <div class="pair"><Field label="Note" field={'note-' + test.id} value={edit.v.note} onValue={note => edit.set({ note })} guess="skip" /><Field label="Made by, initials" field={'by-' + test.id} value={edit.v.by} onValue={by => edit.set({ by })} guess="skip" /></div>
      <Clash edit={edit} label={k => conditionNames[k] ?? k} />
      {!edit.differs.length && <Trouble wrong={wrong.value} />}
      <button class="button" disabled={!Object.keys(edit.typed).length}>Put it right</button>
      <TestStory id={test.id} rev={test.rev} />
    </form>
  )
}

/** What happened to one test. */
export function TestStory({ id, rev }: { id: string; rev: number }) {
  const { data } = useGet<{ events: Happening[] }>(`tests/${id}/history?rev=${rev}`, c => c.id === id)
  if (!data || data.events.length < 2) return null
  return <><h3>What happened to it</h3><Story events={data.events} /></>
}

export function Story({ events, link }: { events: Happening[]; link?: string }) {
  return (
    <ol class="story">{events.map(e => (
      <li><span class="nw when">{e.when}{e.by && ', ' + e.by}</span><div><p>{link && e.port ? <a href={link + e.port}><Say>{capital(e.words)}</Say></a> : <Say>{capital(e.words)}</Say>}</p>
        {e.changes.length > 0 && <ul>{e.changes.map(d => <li>{d.of && <><Say>{d.of}</Say>: </>}<b><Say>{d.what}</Say></b>{(d.was || d.is) && <> <Say>{d.was || 'nothing'}</Say> → <Say>{d.is || 'nothing'}</Say></>}</li>)}</ul>}</div></li>
    ))}</ol>
  )
}

export const capital = (s: string) => (s ? s[0].toUpperCase() + s.slice(1) : s)
