// Other tests: what the leaks found would show there, and what was seen.
import { useSignal } from '@preact/signals'
import { useEffect, useRef, useState } from 'preact/hooks'
import { call, settings, useGet, Wrong } from './api'
import { Choice, Field, headNav, Insist, Say, Sheet, StateWord, Swatch, Show, TitleBlock, Trouble, useDraft, useInView } from './kit'
import type { Named, Word } from './types'

interface Figure { figure: string; range: string }
interface Cylinder { cylinder: number; name: string; ports: string; missing: string; leak_down: Figure[]; lost: Figure[]; cranking: { without: Figure; with: Figure; cost: string } | null }
interface PortLine { port: string; name: string; short: string; state: string; word: string; leak: string; why: string; liquids: { paper: Figure; drop: Figure; never: string }[]; needle: Figure[] }
interface KindField { key: string; name: string; unit: string; guess: string; more: boolean; words: Word[] }
interface Kind extends Word { of_cylinder: boolean; figure: string; fields: KindField[] }
interface Observed {
  id: string; rev: number; kind: string; word: string; cylinder: number; port: string; on: string; at: number; when: string; by: string; fields: Record<string, string>; note: string
  seen: string; forecast: string; stands: string; verdict: string; says: string; bound: string; lapsed: string
}
interface Other {
  head: { id: string; rev: number; number: string; title: string }; unit: string; vacuum_unit: string; line: string; summary: string; asked: Record<string, string>; restrictors: string[]; cylinders: Cylinder[]; ports: PortLine[]
  liquids: (Word & { source: string; caution: string })[]; pumps: string[]; habit: string; kinds: Kind[]; observed: Observed[]; binned: Observed[]; cautions: Named[]; title_block: Named[]; engine_missing: string; spread: string; gauge_says: string
}

const start = { supply: '', height: '', orifice: '', known_leak: '', known_second: '', free_flow: '', blanked: '' }

export function OtherTests({ id, port }: { id: string; port: string }) {
  const [ways, change] = useDraft('other ' + id, start)
  const [query, ask] = useState('')
  useEffect(() => {
    const later = setTimeout(() => ask(new URLSearchParams(Object.entries(ways).filter(([, v]) => v)).toString()), 300)
    return () => clearTimeout(later)
  }, [ways])
  const { data, wrong, again } = useGet<Other>(`heads/${id}/crosscheck${query && '?' + query}`, c => c.job === id || c.id === id || c.kind === 'rig')
  const edited = useSignal<Observed | null>(null)
  const o = data
  if (!o) return <Sheet number="Other tests" title="" nav={headNav(id, 'other')}><Trouble wrong={wrong} /></Sheet>
  const way = (key: keyof typeof start, label: string, unit: string, guess: string) => <Field label={label} unit={unit} guess={guess} value={ways[key]} onValue={v => change({ [key]: v })} field={key} wrong={wrong?.fields.length ? Object.assign(wrong, { quiet: true }) : null} />
  return (
    <Sheet wide number={o.head.number} title="other tests" line="other tests" nav={headNav(id, 'other')}>
      <div class="split other">
        <section class="left">
          <p class="lead"><Say>{o.line}</Say></p>
          <Forecasts o={o} id={id} here={port} />
          {o.habit && <p class="cap"><Say>{o.habit}</Say></p>}
          <Show label="How the tests are made" name="other ways" open={!!wrong?.fields.length}>
            <div class="fields2">
              {way('supply', 'Supply of the leak-down tester', 'psi', '80')}
              {way('orifice', 'Own restrictor’s bore', 'mm', 'none')}
              {way('known_leak', 'Or a known leak on the tester', 'cm³/min', 'none')}
              {way('known_second', 'Second gauge with it', 'psi', 'none')}
              {way('height', 'Height of liquid over the seat', 'mm', '30 ± 20')}
              {way('free_flow', 'Another pump’s free flow', 'L/min', 'none')}
              {way('blanked', 'Its blanked reading', o.vacuum_unit, 'none')}
            </div>
          </Show>
          <Trouble wrong={wrong} />
        </section>
        <section class="right">
          <Enter key={edited.value?.id ?? ''} o={o} port={port} edit={edited.value} done={() => ((edited.value = null), again())} />
          {o.spread && <p class="block note noteblock"><Say>{o.spread}</Say></p>}
          {o.observed.map(x => <Seen x={x} done={again} edit={() => (edited.value = x)} />)}
          {o.binned.length > 0 && <Show label={`In the bin: ${o.binned.length}`} name="other bin">{o.binned.map(x => <p class="row between"><span><Say>{`${x.word}, ${x.on}, ${x.seen}`}</Say></span><Put x={x} what="unbin" done={again}>Put it back</Put></p>)}</Show>}
          <div class="block"><h3>Cautions</h3><dl class="cautionlist">{o.cautions.map(c => <><dt>{c.name}</dt><dd><Say>{c.words}</Say></dd></>)}</dl></div>
          <TitleBlock rows={o.title_block} />
        </section>
      </div>
    </Sheet>
  )
}

/** What the leaks found would show: by cylinder, and by port. */
function Forecasts({ o, id, here }: { o: Other; id: string; here: string }) {
  const [liquid, setLiquid] = useState('')
  const at = Math.max(0, o.liquids.findIndex(l => l.code === liquid))
  return (
    <>
      <h2>Leak-down and cranking gauge</h2>
      <div class="scroll" tabIndex={0} role="region" aria-label="Leak-down and cranking gauge">
        <table class="others"><thead><tr><th scope="col">Cylinder</th>{o.restrictors.map(r => <th scope="col" class="r"><Say>{r}</Say></th>)}<th scope="col" class="r">Cranking</th></tr></thead>
          <tbody>{o.cylinders.map(c => <tr>
            <th scope="row">{c.cylinder}<small>{c.ports || 'no leak rate'}{c.ports && c.missing && `; without ${c.missing}`}</small></th>
            {o.restrictors.map((r, i) => <td class="r" data-name={r}><Fig f={c.leak_down[i]} />{c.lost[i] && <small>{c.lost[i].figure} lost</small>}</td>)}
            <td class="r" data-name="Cranking">{c.cranking ? <><Fig f={c.cranking.with} /><small>tight {c.cranking.without.figure}</small><small>{c.cranking.cost}</small></> : '–'}</td>
          </tr>)}</tbody></table>
      </div>
      <p class="cap">Second gauge, valves alone: a sound ring pack takes it lower. <Say>{o.gauge_says}</Say> {o.engine_missing && <><Say>{o.engine_missing}</Say> <a href={`#/heads/${id}/sizes`}>Sizes</a></>}</p>
      <h2>Liquid in the port</h2>
      <Choice label="Liquid" words={o.liquids} value={o.liquids[at].code} onValue={setLiquid} />
      {o.liquids[at].caution && <p class="trouble"><Say>{o.liquids[at].caution}</Say></p>}
      <div class="scroll" tabIndex={0} role="region" aria-label="Liquid and needle">
        <table class="others"><thead><tr><th scope="col">Port</th><th scope="col" class="r">Leak, <Say>{o.unit}</Say></th><th scope="col" class="r">Paper wet after</th><th scope="col" class="r">First drop after</th>{o.pumps.map(p => <th scope="col" class="r">Needle below, <Say>{p}</Say></th>)}</tr></thead>
          <tbody>{o.ports.map(p => <tr class={p.port === here ? 'here' : ''}>
            <th scope="row"><a class="portname" href={`#/heads/${id}/ports/${p.port}`}><Swatch state={p.state} size={16} /><span class="long">{p.name}</span><span aria-hidden="true">{p.short}</span></a></th>
            {p.why ? <td colSpan={3 + o.pumps.length} class="cap">{p.why}</td> : <>
              <td class="r fig" data-name={'Leak, ' + o.unit}>{p.leak}</td><td class="r" data-name="Paper wet after"><Fig f={p.liquids[at].paper} /></td><td class="r" data-name="First drop after"><Fig f={p.liquids[at].drop} />{p.liquids[at].never && <small>none ever: {p.liquids[at].never}</small>}</td>
              {o.pumps.map((pump, i) => <td class="r" data-name={'Needle below, ' + pump}><Fig f={p.needle[i]} /></td>)}
            </>}
          </tr>)}</tbody></table>
      </div>
      <p class="cap">Dry after a minute clears no port: a liquid is far slower than air, and its own surface may hold it. Properties of {o.liquids[at].word}: <Say>{o.liquids[at].source}</Say>.</p>
    </>
  )
}

/** The same on a job card: in a line, the rest hidden until asked for. */
export function OtherShow({ id }: { id: string }) {
  const at = useRef<HTMLDivElement>(null)
  const seen = useInView(at)
  const { data, wrong } = useGet<Other>(seen ? `heads/${id}/crosscheck` : null, c => c.job === id || c.id === id || c.kind === 'rig')
  return (
    <div class="losses other" ref={at}><Show label="The same leaks in other tests" name="other tests" says={data?.summary || data?.line}>
      <Trouble wrong={wrong} />
      {data && <Forecasts o={data} id={id} here="" />}
      {data && <p><a href={`#/heads/${id}/crosscheck`}>Other tests</a>: how they are made, and what was seen there.</p>}
    </Show></div>
  )
}

const Fig = ({ f }: { f?: Figure }) => f ? <><b><Say>{f.figure}</Say></b>{f.range && <small><Say>{f.range}</Say></small>}</> : <>–</>

/** What was seen in another test, entered or put right. */
function Enter({ o, port, edit, done }: { o: Other; port: string; edit: Observed | null; done: () => void }) {
  const blank = { kind: port ? 'liquid' : 'leak-down', cylinder: o.cylinders[0]?.cylinder ?? 1, port: port || o.ports[0]?.port || '', note: '', fields: {} as Record<string, string> }
  const [d, change, clear] = useDraft('observed ' + o.head.id + (edit?.id ?? ''), edit ? { kind: edit.kind, cylinder: edit.cylinder || blank.cylinder, port: edit.port || blank.port, note: edit.note, fields: edit.fields } : blank)
  const wrong = useSignal<Wrong | null>(null)
  const kind = o.kinds.find(k => k.code === d.kind)!
  const of = (f: KindField) => d.fields[f.key] ?? f.words[0]?.code ?? ''
  const set = (key: string, v: string) => change({ fields: { ...d.fields, [key]: v } })
  useEffect(() => { // the port one comes from, unless a figure is being typed
    if (!edit && port && port !== d.port && !d.fields[kind.figure]) change({ port, ...(kind.of_cylinder ? { kind: 'liquid', fields: {} } : {}) })
  }, [port])
  // one kind goes round all cylinders, or ports: how it is made stays, the figure goes
  const goOn = () => {
    const { [kind.figure]: _, ...fields } = d.fields
    const next = <T,>(all: T[], now: T) => all[(all.indexOf(now) + 1) % all.length]
    change({ fields, note: '', ...(kind.of_cylinder ? { cylinder: next(o.cylinders.map(c => c.cylinder), d.cylinder) } : { port: next(o.ports.map(p => p.port), d.port) }) })
    document.getElementById('f-seen-' + kind.figure)?.focus()
  }
  const send = (insist: boolean) => {
    const fields = Object.fromEntries(kind.fields.filter(f => !f.more || d.fields.restrictor === 'own').map(f => [f.key, of(f)]))
    const body = { rev: edit?.rev ?? 0, kind: d.kind, cylinder: kind.of_cylinder ? d.cylinder : 0, port: kind.of_cylinder ? '' : d.port, fields, note: d.note, insist, by: settings.value!.initials }
    call(edit ? 'PUT' : 'POST', edit ? 'observed/' + edit.id : `heads/${o.head.id}/crosscheck`, body).then(() => ((wrong.value = null), edit ? clear() : goOn(), done()), e => (wrong.value = e))
  }
  return (
    <form class="enter" noValidate onSubmit={e => (e.preventDefault(), send(false))}>
      <h2>{edit ? 'Put right what was seen' : 'What was seen'}</h2>
      <Choice label="In which test" words={o.kinds} value={d.kind} onValue={k => change({ kind: k, fields: {} })} />
      {kind.of_cylinder
        ? <Choice label="Cylinder" words={o.cylinders.map(c => ({ code: String(c.cylinder), word: String(c.cylinder) }))} value={String(d.cylinder)} onValue={c => change({ cylinder: +c })} />
        : <div class="field"><label for="otherport">Port</label><div class="box"><select id="otherport" value={d.port} onChange={e => change({ port: (e.target as HTMLSelectElement).value })}>{o.ports.map(p => <option value={p.port}>{p.name}</option>)}</select></div></div>}
      {kind.fields.filter(f => !f.more || d.fields.restrictor === 'own').map(f => f.words.length
        ? <Choice label={f.name} words={f.words} value={of(f)} onValue={v => set(f.key, v)} />
        : <Field label={f.name} unit={f.unit} guess={f.guess} value={d.fields[f.key] ?? ''} onValue={v => set(f.key, v)} field={'fields.' + f.key} id={'seen ' + f.key} wrong={wrong.value} />)}
      <Field label="Note" value={d.note} onValue={note => change({ note })} guess="skip" id="seen note" />
      <Trouble wrong={wrong.value} />
      <Insist wrong={wrong.value} yes={() => send(true)} />
      <div class="row"><button class="button red" data-enter>{edit ? 'Save' : 'Compare it'}</button>{edit && <button type="button" class="quiet" onClick={() => (clear(), done())}>Leave it</button>}</div>
    </form>
  )
}

function Seen({ x, done, edit }: { x: Observed; done: () => void; edit: () => void }) {
  return (
    <article class={'block seen' + (x.lapsed ? ' lapsed' : '')}>
      <h3>{x.word}, {x.on} <small>{x.when}{x.by && ', ' + x.by}</small></h3>
      <p><b><Say>{x.seen}</Say></b>{x.forecast && <>; forecast <Say>{x.forecast}</Say></>}</p>
      <p>{x.lapsed ? <b>{x.lapsed[0].toUpperCase() + x.lapsed.slice(1)}</b> : <StateWord state={x.stands === 'more' && x.kind !== 'cranking' ? 'leaks' : ''} word={x.verdict} />}{!x.lapsed && x.says && <>. <Say>{x.says}</Say></>}</p>
      {x.bound && <p class="cap"><Say>{x.bound}</Say></p>}
      {x.note && <p class="cap">{x.note}</p>}
      <div class="row"><button type="button" class="quiet" onClick={edit}>Put right</button><Put x={x} what="bin" done={done}>To the bin</Put></div>
    </article>
  )
}

function Put({ x, what, done, children }: { x: Observed; what: string; done: () => void; children: string }) {
  const wrong = useSignal<Wrong | null>(null)
  return <><button type="button" class="quiet" aria-label={`${children}: ${x.word}, ${x.on}, ${x.when}`} onClick={() => call('POST', `observed/${x.id}/${what}`, { rev: x.rev, by: settings.value!.initials }).then(done, e => (wrong.value = e))}>{children}</button><Trouble wrong={wrong.value} /></>
}
