import { useSignal } from '@preact/signals'
import { useEffect, useState } from 'preact/hooks'
import { call, words, type Wrong } from './api'
import { useHead } from './card'
import { asked, BinnedHead, capital, Clash, Elsewhere, Tabs, useEdit, useSave, type Texts } from './edit'
import { Choice, Drawing, Field, headNav, Insist, Say, Sheet, Tick, Trouble } from './kit'
import type { Both, Head } from './types'

function texts(h: Head): Texts {
  const t: Texts = { 'engine.numbers': h.engine.numbers.join(' '), 'engine.kind': h.engine.kind, 'engine.same_side': h.engine.same_side ? 'yes' : 'no' }
  for (const p of h.ports) Object.assign(t, { [`ports.${p.id}.cylinders`]: p.cylinders.join(' '), [`ports.${p.id}.side`]: p.side, [`ports.${p.id}.part`]: p.part, [`ports.${p.id}.out`]: '' })
  for (const v of h.valves) {
    const port = h.ports.find(p => p.valves.includes(v.id))?.id ?? ''
    Object.assign(t, { [`valves.${v.id}.cylinder`]: String(v.cylinder), [`valves.${v.id}.side`]: v.side, [`valves.${v.id}.place`]: v.place, [`valves.${v.id}.port`]: port, [`valves.${v.id}.out`]: '' })
  }
  return t
}

interface P { id: string; cylinders: string[]; side: string; part: string; out: boolean; fresh: boolean; valves: V[] }
interface V { id: string; cylinder: string; side: string; place: string; port: string; out: boolean; fresh: boolean }

/** What is typed, as ports with their valves. A valve is on one port by its very form. */
function read(v: Texts): P[] {
  const ids = (list: string) => Object.keys(v).filter(k => k.startsWith(list + '.') && k.endsWith('.side')).map(k => k.split('.')[1])
  const valves = ids('valves').map(id => {
    const at = (k: string) => v[`valves.${id}.${k}`] ?? ''
    return { id, cylinder: at('cylinder'), side: at('side'), place: at('place'), port: at('port'), out: at('out') === 'yes', fresh: at('new') === 'yes' }
  })
  return ids('ports').map(id => {
    const at = (k: string) => v[`ports.${id}.${k}`] ?? ''
    return { id, cylinders: at('cylinders').split(' ').filter(Boolean), side: at('side'), part: at('part'), out: at('out') === 'yes', fresh: at('new') === 'yes', valves: valves.filter(x => x.port === id) }
  })
}

/** The request: a port says what it feeds where that is not what it fed. */
function request(head: Head, typed: Texts, ports: P[]) {
  const flat: Texts = {}
  for (const [k, t] of Object.entries(typed)) if (!k.endsWith('.port')) flat[k] = t
  for (const p of ports) {
    if (p.out) continue
    const feeds = p.valves.filter(x => !x.out).map(x => x.id)
    const fed = head.ports.find(x => x.id === p.id)?.valves ?? []
    if (p.fresh || feeds.length !== fed.length || feeds.some(x => !fed.includes(x))) flat[`ports.${p.id}.valves`] = feeds.join(' ')
  }
  return asked(flat)
}

const places = ['left', 'right', 'middle']
const free = (taken: string[]) => places.find(x => !taken.includes(x)) ?? ''

/** Which valves a port feeds, and which ports and valves there are: put right after booking in. */
export function Layout({ id }: { id: string }) {
  const { data, again, put } = useHead(id)
  return data ? <Form head={data.head} again={again} put={put} /> : null
}

interface Tried { head: Head; plan: string; names: Record<string, string> }

function Form({ head, again, put }: { head: Head; again: () => void; put: (b: Both) => void }) {
  const edit = useEdit('layout ' + head.id, head.rev, texts(head))
  const { v, set } = edit
  const ports = read(v)
  const body = request(head, edit.typed, ports)
  const [saved, setSaved] = useState(false)
  const [open, setOpen] = useState('')
  const { wrong, save, forget } = useSave(head, edit, again, b => {
    put(b) // before anything is typed on the old revision
    setSaved(true)
    setOpen('')
  })
  const send = (more = {}) => save({ ...body, ...more, ...(body.ports ? {} : { ports: [] }), valves: (body.valves ?? []).map(({ port, ...x }: any) => x) })
  const tried = useSignal<Tried | null>(null)
  const seen = useSignal<Wrong | null>(null)
  const what = JSON.stringify(body)
  useEffect(() => {
    let still = true
    const width = Math.min(760, document.querySelector('.preview')?.clientWidth ?? 520)
    const t = setTimeout(() => call<Tried>('PUT', `heads/${head.id}?try=${width}`, { ...body, rev: head.rev, insist: true }).then(
      r => still && ((tried.value = r), (seen.value = null)),
      (e: Wrong) => {
        e.quiet = true
        if (still) seen.value = e.status === 409 ? null : e
      },
    ), 150)
    forget()
    return () => {
      still = false
      clearTimeout(t)
    }
  }, [what, head.rev])
  const w = wrong ?? seen.value
  const names = tried.value?.names ?? {}
  const nameOf = (id: string) => names[id] ?? head.ports.find(p => p.id === id)?.name ?? head.valves.find(x => x.id === id)?.name ?? 'new'
  const cylinders = v['engine.numbers'].split(/[ ,]+/).filter(Boolean)
  const fresh = (letter: string) => {
    let n = 1
    while (Object.keys(v).some(k => k.split('.')[1] === `new-${letter}${n}`)) n++
    return `new-${letter}${n}`
  }
  const drop = (list: string, id: string): Texts => Object.fromEntries(Object.keys(v).filter(k => k.startsWith(`${list}.${id}.`)).map(k => [k, '']))
  const change = (part: Texts) => {
    setSaved(false)
    set(part)
  }
  /** Puts a valve on a port: its side and, where it must, its cylinder follow. */
  const onto = (x: V, p: P): Texts => ({ [`valves.${x.id}.port`]: p.id, [`valves.${x.id}.side`]: p.side, [`valves.${x.id}.cylinder`]: p.cylinders.includes(x.cylinder) ? x.cylinder : p.cylinders[0] ?? '' })
  const makeValve = (p: P): Texts => {
    const cylinder = p.cylinders[0] ?? cylinders[0] ?? '1'
    const beside = ports.flatMap(q => q.valves).filter(x => !x.out && x.side === p.side && x.cylinder === cylinder)
    const id = fresh('v')
    const only = beside.find(x => !x.place)
    return {
      ...(only ? { [`valves.${only.id}.place`]: 'left' } : {}),
      [`valves.${id}.new`]: 'yes', [`valves.${id}.cylinder`]: cylinder, [`valves.${id}.side`]: p.side, [`valves.${id}.port`]: p.id,
      [`valves.${id}.place`]: beside.length ? free(beside.map(x => x.place || 'left')) : '',
    }
  }
  const makePort = () => {
    const id = fresh('p')
    const p: P = { id, cylinders: [cylinders[cylinders.length - 1] ?? '1'], side: 'intake', part: '', out: false, fresh: true, valves: [] }
    const beside = ports.filter(q => !q.out && q.side === p.side && q.cylinders.join() === p.cylinders.join())
    const only = beside.find(q => !q.part)
    change({
      ...(only ? { [`ports.${only.id}.part`]: 'left' } : {}),
      [`ports.${id}.new`]: 'yes', [`ports.${id}.side`]: p.side, [`ports.${id}.cylinders`]: p.cylinders.join(' '), [`ports.${id}.part`]: beside.length ? free(beside.map(q => q.part || 'left')) : '',
      ...makeValve(p),
    })
    setOpen(id)
  }
  const part = (p: P) => {
    const those = p.valves.filter(x => !x.out)
    const out: Texts = { [`ports.${p.id}.part`]: those[0].place || 'left' }
    those.slice(1).forEach((x, i) => {
      const id = `${fresh('p')}${i || ''}`
      Object.assign(out, { [`ports.${id}.new`]: 'yes', [`ports.${id}.side`]: p.side, [`ports.${id}.cylinders`]: x.cylinder, [`ports.${id}.part`]: x.place, [`valves.${x.id}.port`]: id })
    })
    if (p.cylinders.length > 1) out[`ports.${p.id}.cylinders`] = those[0].cylinder
    change(out)
  }
  const join = (p: P, to: P) => {
    const all = cylinders.filter(c => p.cylinders.includes(c) || to.cylinders.includes(c))
    const out: Texts = { [`ports.${to.id}.cylinders`]: all.join(' ') }
    if (to.part && !ports.some(q => q !== p && q !== to && !q.out && q.side === to.side && q.cylinders.join(' ') === all.join(' '))) out[`ports.${to.id}.part`] = ''
    for (const x of p.valves) out[`valves.${x.id}.port`] = to.id
    change({ ...out, ...(p.fresh ? drop('ports', p.id) : { [`ports.${p.id}.out`]: 'yes' }) })
    setOpen('')
  }
  const takeOut = (p: P) => change(Object.assign(p.fresh ? drop('ports', p.id) : { [`ports.${p.id}.out`]: 'yes' }, ...p.valves.map(x => (x.fresh ? drop('valves', x.id) : { [`valves.${x.id}.out`]: 'yes' }))))
  const putBack = (p: P) => change(Object.assign({ [`ports.${p.id}.out`]: '' }, ...head.valves.filter(x => head.ports.find(q => q.id === p.id)?.valves.includes(x.id)).map(x => ({ [`valves.${x.id}.out`]: '', [`valves.${x.id}.port`]: p.id }))))
  // left and right are kept as they are with the first end at the left, and said as the head lies
  const flip = head.lie.said && !head.lie.first_left
  const lying = words.value!.places.map(p => ({ ...p, code: !flip ? p.code : p.code === 'left' ? 'right' : p.code === 'right' ? 'left' : p.code }))
  const changed = Object.keys(edit.typed).length > 0
  const label = (key: string) => {
    const [list, id, field] = key.split('.')
    return list === 'engine' ? 'Engine: ' + id : `${capital(nameOf(id))}: ${field === 'out' ? 'taken out' : field}`
  }
  return (
    <Sheet number={head.number} title="what feeds what" line="what feeds what" nav={headNav(head.id, 'sizes')}>
      <BinnedHead head={head} again={again} />
      <form class="split layout" noValidate onSubmit={e => (e.preventDefault(), send())}>
        <div class="left">
          <Tabs id={head.id} here="layout" />
          <div class="pair">
            <Field label="Cylinders of this head, as its maker counts" field="engine.numbers" value={v['engine.numbers']} onValue={x => change({ 'engine.numbers': x })} wrong={w && { ...w, quiet: w.quiet, fields: w.fields.map(f => (/^engine\.(numbers|cylinders)/.test(f.field) ? { ...f, field: 'engine.numbers' } : f)) } as Wrong} hint="From the end at which counting starts: 1 2 3" />
          </div>
          <Choice label="Engine" words={words.value!.layouts} value={v['engine.kind']} onValue={x => change({ 'engine.kind': x })} />
          <div class="ticks"><Tick label="Intake and exhaust ports open on one side" value={v['engine.same_side'] === 'yes'} onValue={on => change({ 'engine.same_side': on ? 'yes' : 'no' })} /></div>
          <h2 class="gap">Ports</h2>
          <ul class="ports-edit">{ports.map(p => {
            const faults = w?.fields.filter(f => f.field.startsWith(`ports.${p.id}.`) && !/plugs|volume/.test(f.field) || p.valves.some(x => f.field.startsWith(`valves.${x.id}.`) && /\.(id|place|cylinder|side)$/.test(f.field))) ?? []
            const left = p.valves.filter(x => !x.out)
            const others = ports.filter(q => q.id !== p.id && !q.out && q.side === p.side)
            return (
              <li class={faults.length ? 'bad' : ''} aria-label={nameOf(p.id)}>
                <div class="row between">
                  <div class="grow">{p.out ? <s><b>{capital(nameOf(p.id))}</b></s> : <b>{capital(nameOf(p.id))}</b>}<br />
                    <span class="cap">{p.out ? 'taken out' : left.length ? (left.length > 1 ? 'valves ' : 'valve ') + left.map(x => nameOf(x.id).replace(/^cylinder (\S+) \w+ valve(, )?/, (_, n, comma) => (p.cylinders.length > 1 ? `of cylinder ${n}${comma ?? ''}` : comma ? '' : 'alone'))).join(' and ') : 'no valve'}{p.fresh && ', new'}</span></div>
                  {p.out ? <button type="button" class="button" onClick={() => putBack(p)}>Undo<span class="vh">: put {nameOf(p.id)} back</span></button>
                    : <><button type="button" class="button" aria-expanded={open === p.id} onClick={() => setOpen(open === p.id ? '' : p.id)}>{open === p.id ? 'Close' : 'Change'}<span class="vh"> {nameOf(p.id)}</span></button>
                      <button type="button" class="button" onClick={() => takeOut(p)}>Take out<span class="vh"> {nameOf(p.id)}</span></button></>}
                </div>
                {faults.map(f => <p class="fault"><b><Say>{f.what}</Say></b> <Say>{f.maybe}</Say></p>)}
                {faults.some(f => f.field.endsWith('.out')) && <div class="row"><button type="button" class="button" onClick={() => send({ tray: true })}>Its tests go to the tray</button><button type="button" class="button" onClick={() => putBack(p)}>It stays</button></div>}
                {open === p.id && !p.out && (
                  <div class="inner">
                    <Choice label="Side" words={words.value!.sides} value={p.side} onValue={x => change(Object.assign({ [`ports.${p.id}.side`]: x }, ...p.valves.map(y => ({ [`valves.${y.id}.side`]: x }))))} />
                    <fieldset class="choice"><legend>Leads to cylinder</legend><div class="ticks">{cylinders.map(c => <Tick label={c} value={p.cylinders.includes(c)} onValue={on => {
                      const next = cylinders.filter(x => (x === c ? on : p.cylinders.includes(x)))
                      change(Object.assign({ [`ports.${p.id}.cylinders`]: next.join(' ') }, ...(next.length ? p.valves.filter(x => !next.includes(x.cylinder)).map(x => ({ [`valves.${x.id}.cylinder`]: next[0] })) : [])))
                    }} />)}</div></fieldset>
                    <Choice label="Which of the ports there, as the head lies" words={lying} value={p.part} onValue={x => change({ [`ports.${p.id}.part`]: x })} />
                    <h3>Its valves</h3>
                    <ul>{p.valves.map(x => (
                      <li>
                        {x.out ? <><s><b>{capital(nameOf(x.id))}</b></s> <button type="button" class="button" onClick={() => change({ [`valves.${x.id}.out`]: '' })}>Undo</button></> : <>
                          {p.cylinders.length > 1 && <Choice label={'Cylinder of ' + nameOf(x.id)} words={p.cylinders.map(c => ({ code: c, word: c }))} value={x.cylinder} onValue={c => change({ [`valves.${x.id}.cylinder`]: c })} />}
                          <Choice label={capital(nameOf(x.id)) + ': its place there'} words={lying} value={x.place} onValue={y => change({ [`valves.${x.id}.place`]: y })} />
                          <div class="row"><label class="pick">On port <select aria-label={'Port of ' + nameOf(x.id)} value={x.port} onChange={e => {
                            const to = ports.find(q => q.id === (e.target as HTMLSelectElement).value)
                            if (to) change(onto(x, to))
                          }}>{ports.filter(q => !q.out).map(q => <option value={q.id}>{nameOf(q.id)}</option>)}</select></label>
                            <button type="button" class="button" onClick={() => change(x.fresh ? drop('valves', x.id) : { [`valves.${x.id}.out`]: 'yes' })}>Take this valve out</button></div>
                        </>}
                      </li>
                    ))}</ul>
                    <div class="row">
                      <button type="button" class="button" onClick={() => change(makeValve(p))}>Add a valve</button>
                      {left.length > 1 && <button type="button" class="button" onClick={() => part(p)}>A port for each valve</button>}
                      {others.length > 0 && <label class="pick">Join it with <select aria-label={`Join ${nameOf(p.id)} with`} value="" onChange={e => {
                        const to = ports.find(q => q.id === (e.target as HTMLSelectElement).value)
                        if (to) join(p, to)
                      }}><option value="">another port</option>{others.map(q => <option value={q.id}>{nameOf(q.id)}</option>)}</select></label>}
                    </div>
                  </div>
                )}
              </li>
            )
          })}</ul>
          <button type="button" class="button" onClick={makePort}>Add a port</button>
        </div>
        <div class="right">
          <div class="preview"><Drawing svg={tried.value?.plan ?? ''} /></div>
          <p class="cap"><Say>{tried.value?.head.says}</Say></p>
          <p class="cap">A port that feeds other valves than it did lapses: what was tested was another port. Names, openings and volumes leave a verdict as it is.</p>
          <Clash edit={edit} label={label} />
          {!edit.differs.length && <Trouble wrong={wrong} />}
          <Elsewhere wrong={w} id={head.id} here={f => /^(ports\.[^.]+\.(id|cylinders|side|part|valves|out)|valves\.[^.]+\.(id|place|cylinder|side)$|engine\.(numbers|cylinders))/.test(f)} />
          <Insist wrong={wrong} yes={() => send({ insist: true })} />
          <div class="row end"><button class="button red" data-enter disabled={!changed || edit.differs.length > 0}>Save</button>
            {changed && <button type="button" class="button" onClick={() => (edit.clear(), setOpen(''))}>Undo all</button>}
            {saved && !changed && <span role="status"><b>Saved.</b></span>}</div>
        </div>
      </form>
    </Sheet>
  )
}
