import { useState } from 'preact/hooks'
import { words, type Wrong } from './api'
import { useHead } from './card'
import { BinnedHead, capital, Clash, Elsewhere, given, guessOf, Tabs, useEdit, useSave, type Edit, type Texts } from './edit'
import { Choice, Field, headNav, Insist, Say, Sheet, Tick, Trouble } from './kit'
import type { Both, Head, Port, Shown, Valve } from './types'

const valveFields: [keyof Valve, string, string, string][] = [
  ['head_diameter', 'Head, diameter', 'mm', ''], ['stem_diameter', 'Stem, diameter', 'mm', ''], ['contact_width', 'Contact width', 'mm', 'The bright band, not the ground seat.'],
  ['seat_angle', 'Seat angle', '°', ''], ['face_angle', 'Face angle of the valve', '°', ''], ['guide_length', 'Guide length', 'mm', ''], ['guide_clearance', 'Guide clearance', 'mm', 'Bore less stem: 0.04 mm, or 2 thou.'],
]

function texts(h: Head): Texts {
  const t: Texts = {}
  for (const v of h.valves) {
    for (const [k] of valveFields) t[`valves.${v.id}.${k}`] = given(v[k] as Shown | null)
    t[`valves.${v.id}.seal`] = v.seal
    t[`valves.${v.id}.coating`] = v.coating
  }
  for (const p of h.ports) {
    t[`ports.${p.id}.volume`] = given(p.volume)
    t[`ports.${p.id}.plugs`] = p.plugs.join(', ')
  }
  return t
}

/** The sizes of valves and ports, of several at once. */
export function Valves({ id }: { id: string }) {
  const { data, again, put } = useHead(id)
  return data ? <Form head={data.head} again={again} put={put} /> : null
}

function Form({ head, again, put }: { head: Head; again: () => void; put: (b: Both) => void }) {
  const edit = useEdit('valves ' + head.id, head.rev, texts(head))
  const [saved, setSaved] = useState(false)
  const { wrong: w, save } = useSave(head, edit, again, b => {
    put(b) // before anything is typed on the old revision
    setSaved(true)
  })
  const n = Object.keys(edit.typed).length
  const name = (key: string) => {
    const [list, id, field] = key.split('.')
    const of = list === 'valves' ? head.valves.find(v => v.id === id)?.name : head.ports.find(p => p.id === id)?.name
    return capital(of ?? id) + ': ' + (valveFields.find(([k]) => k === field)?.[1] ?? field).toLowerCase()
  }
  return (
    <Sheet number={head.number} title="sizes of valves and ports" line="valves and ports: sizes" nav={headNav(head.id, 'sizes')}>
      <BinnedHead head={head} again={again} />
      <form class="narrow wide2" noValidate onSubmit={e => (e.preventDefault(), save())} onInput={() => saved && setSaved(false)}>
        <Tabs id={head.id} here="valves" />
        <Several what="valves" title="Valves" all={head.valves} edit={edit} wrong={w}>{(at, first, same) => <>
          <div class="pair">
            {valveFields.map(([k, label, unit, hint]) => <Field label={label} unit={unit} hint={hint} mode="decimal" {...at(k, guessOf(first[k] as Shown | null))} />)}
            <Field label="Stem seal" {...at('seal', 'skip')} list={['none', 'rubber', 'viton']} />
          </div>
          <Choice label="Coated or hollow" words={words.value!.coatings} value={same('coating') ?? 'differs'} onValue={v => at('coating', '').onValue(v)} />
          <p class="cap">Coated, nitrided, titanium and hollow valves are never lapped.</p>
        </>}</Several>
        <Several what="ports" title="Ports" all={head.ports} edit={edit} wrong={w}>{(at, first, same) => <>
          <div class="pair"><Field label="Volume of one port" unit="cm³" mode="decimal" hint="From its face to the valves: pour one full before it is tested, and dry it." {...at('volume', guessOf(first.volume))} /></div>
          <Plugs value={same('plugs')} onValue={v => at('plugs', '').onValue(v)} wrong={w} />
        </>}</Several>
        <Clash edit={edit} label={name} />
        {!edit.differs.length && <Trouble wrong={w} />}
        <Elsewhere wrong={w} id={head.id} here={f => f in edit.v || /plugs/.test(f)} />
        <Insist wrong={w} yes={() => save({ insist: true })} />
        <div class="row end"><button class="button red" data-enter disabled={!n || edit.differs.length > 0}>Save</button>
          {n > 0 && <><span class="cap">{n === 1 ? 'one figure' : n + ' figures'} not saved yet</span><button type="button" class="button" onClick={() => edit.clear()}>Forget them</button></>}
          {saved && !n && <span role="status"><b>Saved.</b> Verdicts and limits follow.</span>}</div>
      </form>
    </Sheet>
  )
}

type At = (field: string, guess: string) => { field: string; value: string; guess: string; onValue: (v: string) => void; wrong: Wrong | null }

/** Some of a head's valves or ports are chosen, and what is typed goes to all of them. */
function Several<T extends Valve | Port>(p: { what: 'valves' | 'ports'; title: string; all: T[]; edit: Edit; wrong: Wrong | null; children: (at: At, first: T, same: (field: string) => string | undefined) => any }) {
  const [chosen, choose] = useState<string[]>(() => p.all.filter(x => x.side === 'intake').map(x => x.id))
  const [seen, see] = useState<Wrong | null>(null)
  const faulty = p.wrong?.fields.filter(f => f.field.startsWith(p.what + '.')).map(f => f.field.split('.')[1]) ?? []
  if (p.wrong !== seen) { // what is wrong comes into sight
    see(p.wrong)
    if (faulty.length && !faulty.some(id => chosen.includes(id))) choose([faulty[0]])
  }
  const those = p.all.filter(x => chosen.includes(x.id))
  const key = (id: string, field: string) => `${p.what}.${id}.${field}`
  const same = (field: string) => {
    const all = [...new Set(those.map(x => p.edit.v[key(x.id, field)]))]
    return all.length === 1 ? all[0] : undefined
  }
  const at: At = (field, guess) => {
    const all = [...new Set(those.map(x => p.edit.v[key(x.id, field)] || 'not known'))]
    const bad = those.find(x => p.wrong?.fields.some(f => f.field === key(x.id, field))) ?? those[0]
    return {
      field: key(bad?.id ?? '', field), value: same(field) ?? '', guess: same(field) === undefined ? 'differs: ' + all.join(', ') : guess, wrong: p.wrong,
      onValue: v => p.edit.set(Object.fromEntries(those.map(x => [key(x.id, field), v]))),
    }
  }
  const group = (ids: string[]) => () => choose(ids)
  const of = (side: string) => p.all.filter(x => x.side === side).map(x => x.id)
  const is = (ids: string[]) => ids.length === chosen.length && ids.every(x => chosen.includes(x))
  return (
    <section class="several" aria-label={p.title}>
      <h2>{p.title}</h2>
      <div class="row" role="group" aria-label="Which of them">
        {([['all intake ' + p.what, of('intake')], ['all exhaust ' + p.what, of('exhaust')], ['all', p.all.map(x => x.id)]] as [string, string[]][]).map(([name, ids]) =>
          <button type="button" class="button" aria-pressed={is(ids)} onClick={group(ids)}>{capital(name)}</button>)}
      </div>
      <fieldset class="choice which"><legend class="vh">One by one</legend><div class="ticks2">{p.all.map(x => <Tick label={capital(x.name) + (faulty.includes(x.id) ? ', see below' : '')} value={chosen.includes(x.id)} onValue={on => choose(on ? [...chosen, x.id] : chosen.filter(y => y !== x.id))} />)}</div></fieldset>
      {those.length ? <><p class="cap of" aria-live="polite">What you type here goes to {those.length === p.all.length ? 'all ' + those.length : those.length === 1 ? <Say>{those[0].name}</Say> : those.length + ' of them'}.</p>{p.children(at, those[0], same)}</> : <p class="cap">None is chosen.</p>}
    </section>
  )
}

/** Other openings of a port: the common ones are ticked, others typed. */
export function Plugs({ value, onValue, wrong, id }: { value: string | undefined; onValue: (v: string) => void; wrong?: Wrong | null; id?: string }) {
  const all = (value ?? '').split(',').map(s => s.trim()).filter(Boolean)
  const usual = words.value!.plugs.map(w => w.code)
  const own = all.filter(x => !usual.includes(x))
  const [text, type] = useState(own.join(', '))
  const put = (ticked: string[], typed: string) => onValue([...ticked, ...typed.split(',').map(s => s.trim()).filter(Boolean)].join(', '))
  return (
    <fieldset class="plugs"><legend>Other openings, to be plugged for a test</legend>
      <div class="ticks">{words.value!.plugs.map(w => <Tick label={w.word} value={all.includes(w.code)} onValue={on => put(on ? [...all.filter(x => usual.includes(x)), w.code] : all.filter(x => usual.includes(x) && x !== w.code), text)} />)}</div>
      <Field label="Others" field={'plugs-' + (id ?? 'of')} value={own.join(', ') === text.split(',').map(s => s.trim()).filter(Boolean).join(', ') ? text : own.join(', ')} onValue={v => (type(v), put(all.filter(x => usual.includes(x)), v))} guess={value === undefined ? 'they differ' : 'none'} hint="With a comma between them." />
      {wrong?.fields.filter(f => /plugs/.test(f.field)).slice(0, 1).map(f => <p class="fault"><b><Say>{f.what}</Say></b></p>)}
    </fieldset>
  )
}
