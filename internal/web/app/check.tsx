// The guided check of a rig: what stands and what is old, each step live, from
// recordings or by hand, and what it all does to the readings.
import { useSignal } from '@preact/signals'
import { useEffect, useLayoutEffect, useRef } from 'preact/hooks'
import { call, send, settings, useGet, Wrong } from './api'
import { CheckLive } from './checklive'
import { Choice, Field, go, home, Say, Sheet, Show, Tick, Trouble, useDraft } from './kit'
import { RigFaults } from './faults'
import { run } from './live'
import { Source, UnderWay, useLiveRun } from './start'
import type { CheckKind, CheckStep, Column, Preview, RigCheck, Run } from './types'
import { wake } from './voice'

type Got = { check: RigCheck }

export const useCheck = (id: string, width: number) => useGet<Got>(width ? `rigs/${id}/check?width=${width}` : null, c => c.kind === 'check' || c.kind === 'test' || c.kind === 'settings' || c.id === id)

export function CheckSheet({ id }: { id: string }) {
  const { data: live } = useLiveRun() // also of one that another screen begins
  const width = useSignal(innerWidth < 900 ? Math.max(280, innerWidth - 48) : 540)
  const { data, wrong, put } = useCheck(id, width.value)
  useEffect(() => {
    if (live && (run.peek() === undefined || (live.run && run.peek()?.id !== live.run.id))) run.value = live.run
  }, [live])
  useEffect(() => () => void (run.value = undefined), [])
  useLayoutEffect(() => {
    const look = () => (width.value = innerWidth < 900 ? Math.max(280, innerWidth - 48) : 540)
    addEventListener('resize', look)
    return () => removeEventListener('resize', look)
  }, [])
  const c = data?.check
  const r = run.value
  if (r && !r.job && r.rig === id && r.view.stage !== 'over') return <CheckLive run={r} check={c} />
  if (!c) return <Sheet number="Rig check" title="" nav={home('rigs')}><Trouble wrong={wrong} /></Sheet>
  const elsewhere = live?.run && live.run.view.stage !== 'over' && (live.run.job || live.run.rig !== id) ? live.run : null
  return (
    <Sheet number={c.rig.name} title="rig check" line="rig check" nav={home('rigs')} act={<a class="act" href={'#/rigs/' + id}>The rig</a>}>
      {elsewhere && <UnderWay run={elsewhere} />}
      <div class="split rigcheck">
        <div class="left">
          <p class="standing"><Say>{c.line}</Say></p>
          {c.narrow && <p class="narrowing"><b>{c.narrow.name}</b> <span><Say>{c.narrow.words}</Say></span></p>}
          <h2 class="vh">The checks</h2>
          <ul class="kinds">{c.kinds.map(k => <Kind key={k.kind} kind={k} check={c} put={put} />)}</ul>
          <Parts check={c} put={put} />
        </div>
        <div class="right">
          <RigFaults id={id} />
          <Begin id={id} check={c} busy={!!elsewhere} />
          <section class="block0 readings-of">
            <h2>What it does to the readings</h2>
            <p class="cap2"><Say>{c.readings.words}</Say></p>
            {c.readings.svg && <div class="drawing" dangerouslySetInnerHTML={{ __html: c.readings.svg }} />}
            {c.readings.of.length > 0 && <ul class="vh">{c.readings.of.map(x => <li>{x.name}: before {x.before}, now {x.now}</li>)}</ul>}
          </section>
          <Show label={`All checks of this rig, ${c.log.length}`} name="checklog">
            <table class="log"><tbody>{c.log.map(l => <tr><td class="nw">{l.when}</td><td>{l.kind}: <Say>{l.words}</Say>{l.stale && <span class="cap"> {l.stale}</span>}</td><td>{l.by}</td></tr>)}</tbody></table>
          </Show>
        </div>
      </div>
    </Sheet>
  )
}

/** The word of where a check stands, as a plate where it is not passed. */
export function CheckWord({ kind: k }: { kind: CheckKind }) {
  return <span class={'word' + (k.verdict === 'failed' && k.state === 'good' ? ' leaks' : '')}><Say>{k.word}</Say></span>
}

function Kind({ kind: k, check: c, put }: { kind: CheckKind; check: RigCheck; put: (d: Got) => void }) {
  const open = useSignal(false)
  const way = useSignal(k.way || k.steps[0]?.code || '')
  const wrong = useSignal<Wrong | null>(null)
  const step = k.steps.find(s => s.code === way.value) ?? k.steps[0]
  const id = 'k-' + k.kind.replace(/\W+/g, '-')
  return (
    <li class={'kind ' + k.state}>
      <button type="button" class="kindline" aria-expanded={open.value} aria-controls={id} onClick={() => (open.value = !open.value)}>
        <b class="grow">{k.name}</b>
        <span class="kindvalue"><Say>{k.value}</Say></span>
        <CheckWord kind={k} />
        <span class="kindwhen">{k.state === 'none' ? '' : `${k.when}, ${k.until}`}</span>
        <span class="kmore">{open.value ? 'hide' : 'show'}</span>
      </button>
      {open.value && <div id={id} class="kindbody">
        <p class="cap2"><Say>{k.why}</Say></p>
        {k.says.map(s => <p><Say>{s}</Say></p>)}
        {k.do && <p class="todo"><b><Say>{k.do}</Say></b></p>}
        {k.chart && <><div class="drawing" dangerouslySetInnerHTML={{ __html: k.chart }} /><p class="cap"><Say>{k.drawn}</Say></p></>}
        {k.shares.length > 1 && <p class="cap">Its doubt comes from {k.shares.map(s => `${s.input} ${s.percent}`).join(', ')}.</p>}
        {k.id && <div class="field trust"><label for={id + '-t'}>Trusted for</label>
          <select id={id + '-t'} value={String(k.days)} onChange={e => {
            call<Got>('PUT', 'checks/' + k.id, { days: +(e.target as HTMLSelectElement).value, by: settings.value!.initials }).then(put, e => (wrong.value = e))
          }}>
            {!c.trust.some(t => t.days === k.days) && <option value={String(k.days)}>{k.days} days</option>}
            {c.trust.map(t => <option value={String(t.days)}>{t.word}</option>)}
          </select><Trouble wrong={wrong.value} /></div>}
        {k.steps.length > 1 && <Choice label={'How, ' + k.name} words={k.steps.map(s => ({ code: s.code, word: s.name.toLowerCase() }))} value={way.value} onValue={v => (way.value = v)} />}
        {step && <Hand key={step.code} id={c.rig.id} unit={c.unit} step={step} put={put} />}
      </div>}
    </li>
  )
}

const empty = (n: number) => Array.from({ length: n }, () => ({}) as Record<string, string>)

/** A step by hand, or from recordings. */
function Hand({ id, unit, step, put }: { id: string; unit: string; step: CheckStep; put: (d: Got) => void }) {
  const [d, change, clear] = useDraft('check ' + id + ' ' + step.code, { fields: {} as Record<string, string>, rows: empty(step.start), way: '' })
  const wrong = useSignal<Wrong | null>(null)
  const sending = useSignal('')
  const files = useRef<HTMLInputElement>(null)
  const knows = step.fields.concat(step.rows).some(c => c.key === 'known')
  const fields = () => ({ ...d.fields, ...(knows && d.way ? { way: d.way } : {}) })
  const done = (g: Got) => {
    wrong.value = null
    sending.value = ''
    clear()
    put(g)
  }
  const failed = (e: Wrong) => {
    wrong.value = e
    sending.value = ''
  }
  const take = async (list: FileList | null) => {
    if (!list?.length) return
    try {
      const traces: string[] = []
      for (const f of Array.from(list).slice(0, step.most)) {
        sending.value = `Sending ${f.name}`
        const form = new FormData()
        form.append('rig', id)
        form.append('file', f, f.name)
        traces.push((await send<Preview>('preview', form, () => {}).done).trace)
      }
      done(await call<Got>('POST', `rigs/${id}/check/${step.code}`, { fields: fields(), rows: d.rows, traces, by: settings.value!.initials }))
    } catch (e) {
      failed(e as Wrong)
    }
    if (files.current) files.current.value = ''
  }
  const of = (c: Column) => c.unit || unit
  const hand = step.fields.length > 0 || step.rows.length > 0
  return (
    <form class="byhand" noValidate onSubmit={e => {
      e.preventDefault()
      call<Got>('POST', `rigs/${id}/check/${step.code}`, { fields: fields(), rows: d.rows, traces: [], by: settings.value!.initials }).then(done, failed)
    }}>
      <h3>{step.name}</h3>
      <p><Say>{step.how}</Say></p>
      {step.hand && <p class="cap"><Say>{step.hand}</Say></p>}
      {step.fields.length > 0 && <div class="pair">{step.fields.map(c => <Field label={c.name} unit={of(c)} field={'fields.' + c.key} id={step.code + '-' + c.key} value={d.fields[c.key] ?? ''} wrong={wrong.value} mode="decimal" hint={c.hint} guess={c.skip ? 'skip' : undefined}
        onValue={v => change({ fields: { ...d.fields, [c.key]: v } })} />)}</div>}
      {knows && <Choice label="The known leak is" words={[{ code: 'jet', word: 'a jet or a drilled hole' }, { code: 'tube', word: 'a needle or a tube' }, { code: '', word: 'not said' }]} value={d.way} onValue={way => change({ way })} />}
      {step.rows.length > 0 && <>
        <div class={'tablerows rows' + step.rows.length}>{d.rows.map((row, i) => <div class={'tablerow of' + step.rows.length}>
          <span class="cap rowno">{i + 1}</span>
          {step.rows.map(c => <Field label={`${c.name}, ${i + 1}`} unit={of(c)} field={`rows.${i}.${c.key}`} id={`${step.code}-${i}-${c.key}`} value={row[c.key] ?? ''} wrong={wrong.value} mode="decimal"
            onValue={v => change({ rows: d.rows.map((r, k) => (k === i ? { ...r, [c.key]: v } : r)) })} />)}
        </div>)}</div>
        <button type="button" class="quiet" onClick={() => change({ rows: [...d.rows, {}] })}>one more row</button>
      </>}
      <Trouble wrong={wrong.value} />
      {wrong.value?.fields.filter(f => f.field.startsWith('traces')).map(f => <p class="fault"><b>{f.what}</b> {f.maybe}</p>)}
      <div class="row">
        {hand && <button class="button">Keep this check</button>}
        {step.files && <label class="button file">{sending.value || (step.most > 1 ? 'Take recordings' : 'Take a recording')}<input ref={files} type="file" multiple={step.most > 1} onChange={e => take((e.target as HTMLInputElement).files)} aria-describedby={'files-' + step.code} /></label>}
      </div>
      {step.files && <p class="cap" id={'files-' + step.code}>Recordings: {step.files}.</p>}
    </form>
  )
}

/** The check on a live source, or on the make-believe rig. */
function Begin({ id, check: c, busy }: { id: string; check: RigCheck; busy: boolean }) {
  const { data: live } = useLiveRun()
  const [d, change] = useDraft('live check', { address: '', known: [{ name: '', flow: '', way: '', which: '', length: '' }], speed: '1', faults: [] as string[] })
  const steps = c.kinds.flatMap(k => k.steps.filter(s => s.live).map(s => ({ code: s.code, name: k.name + (k.steps.filter(x => x.live).length > 1 || k.kind === 'volume' ? ', ' + s.name.toLowerCase() : '') })))
  const want = useSignal<string[] | null>(null)
  const on = want.value ?? c.usual
  const wrong = useSignal<Wrong | null>(null)
  const begin = (practise: boolean) => {
    wake()
    const known = d.known.map(k => (k.which ? { name: k.which, flow: k.which + (k.length ? `, ${/[a-z]/i.test(k.length) ? k.length : k.length + ' mm'}` : ''), way: '' } : { name: k.name, flow: k.flow, way: k.way })).filter(k => k.flow.trim() || k.name.trim())
    call<{ run: Run }>('POST', 'live', {
      rig: id, sources: practise ? [] : [d.address], practise: practise ? { speed: +d.speed, faults: d.faults ?? [] } : null, by: settings.value!.initials,
      check: { steps: practise ? steps.map(s => s.code).filter(s => on.length === 0 || on.includes(s)) : on, known: practise ? [] : known },
    }).then(r => {
      wrong.value = null
      run.value = r.run
    }, e => (wrong.value = e))
  }
  if (c.rig.practise) return (
    <section class="block0 makebelieve">
      <h2>On the make-believe rig</h2>
      <p>Someone at it does what the check says; you watch, and may press its keys.</p>
      <Choice label="How fast" words={[{ code: '1', word: 'as at the bench' }, { code: '4', word: '4 times' }, { code: '10', word: '10 times' }]} value={d.speed} onValue={speed => change({ speed })} />
      <Steps steps={steps} on={on} set={s => (want.value = s)} />
      {!on.length && <p class="cap2">Nothing is due today. Choose a step to take it again.</p>}
      {live?.faults && <Show label="What goes wrong" name="check faults" open={!!d.faults?.length}><fieldset class="choice"><legend>None, or</legend><div class="ticks2">{live.faults.filter(f => !f.port).map(f => <Tick label={f.word} value={(d.faults ?? []).includes(f.code)} onValue={on => change({ faults: on ? [...(d.faults ?? []), f.code] : d.faults.filter(x => x !== f.code) })} />)}</div></fieldset>
        <p class="cap">The hose is 1.5 m long. To see what it takes, pull on the known leaks of the pump’s curve with the gauge at the pump’s end, and again without; then give both readings to the hose’s check.</p></Show>}
      <Trouble wrong={wrong.value} />
      <FaultList wrong={wrong.value} />
      <button type="button" class="button red tall wide" data-enter data-key="p" disabled={busy || !on.length} onClick={() => begin(true)}>Practise the check <kbd>Enter</kbd></button>
    </section>
  )
  return (
    <section class="block0">
      <h2>On a live source</h2>
      <form noValidate onSubmit={e => (e.preventDefault(), begin(false))}>
        <Source label="Gauge" field="sources.0" kinds={live?.kinds ?? []} value={d.address} onValue={address => (change({ address }), (wrong.value = null))} wrong={wrong.value} />
        {d.address && <>
          <h3>Known leaks at hand</h3>
          {d.known.map((k, i) => {
            const set = (part: Partial<typeof k>) => change({ known: d.known.map((x, n) => (n === i ? { ...x, ...part } : x)) })
            const n = d.known.length > 1 ? `, ${i + 1}` : ''
            return <>
              <div class="field"><label for={`known-${i}`}>{`The known leak${n}`}</label>
                <select id={`known-${i}`} value={k.which ?? ''} onChange={e => (set({ which: (e.target as HTMLSelectElement).value, length: '' }), (wrong.value = null))}>
                  <option value="">by its figure</option>{c.leaks.map(l => <option value={l.code}>{l.word}</option>)}</select></div>
              {k.which ? c.leaks.find(l => l.code === k.which)?.length && <Field label={`Its length${n}`} unit="mm" field={`check.known.${i}.flow`} value={k.length ?? ''} wrong={wrong.value} hint="A tube’s flow goes by its length." onValue={length => set({ length })} /> : <>
                <div class="pair">
                  <Field label={`Its name, ${i + 1}`} field={`check.known.${i}.name`} value={k.name} wrong={wrong.value} guess="skip" onValue={name => set({ name })} />
                  <Field label={`It passes, ${i + 1}`} unit="cm³/min" field={`check.known.${i}.flow`} value={k.flow} wrong={wrong.value} guess="skip" hint="Of free air at 50 kPa, as in 60 ± 5." onValue={flow => set({ flow })} />
                </div>
                <Choice label={`It is${n}`} words={[{ code: 'jet', word: 'a jet or a drilled hole' }, { code: 'tube', word: 'a needle or a tube' }, { code: '', word: 'not said' }]} value={k.way} onValue={way => set({ way })} /></>}
            </>
          })}
          <button type="button" class="quiet" onClick={() => change({ known: [...d.known, { name: '', flow: '', way: '', which: '', length: '' }] })}>one more known leak</button>
          <Steps steps={steps} on={on} set={s => (want.value = s)} />
          {!on.length && <p class="cap2">Nothing is due today. Choose a step to take it again.</p>}
        </>}
        <Trouble wrong={wrong.value} />
        <FaultList wrong={wrong.value} />
        <button class="button red tall wide" data-enter disabled={!d.address || busy || !on.length}>Begin the check <kbd>Enter</kbd></button>
      </form>
      <p class="cap">No source? Each check on the left can be taken by hand, or from a recording.</p>
    </section>
  )
}

function FaultList({ wrong }: { wrong: Wrong | null }) {
  return <>{wrong?.fields.filter(f => /^(practise|check\.steps|rig)/.test(f.field)).map(f => <p class="fault"><b><Say>{f.what}</Say></b> <Say>{f.maybe}</Say></p>)}</>
}

function Steps({ steps, on, set }: { steps: { code: string; name: string }[]; on: string[]; set: (s: string[]) => void }) {
  return <Show label={`Steps, ${on.length} of ${steps.length}`} name="check steps"><fieldset class="choice"><legend class="vh">Steps</legend><div class="ticks2">{steps.map(s => <Tick label={s.name} value={on.includes(s.code)} onValue={v => set(v ? [...on, s.code] : on.filter(x => x !== s.code))} />)}</div></fieldset></Show>
}

/** A part was changed: what was measured with the old one says nothing any more. */
function Parts({ check: c, put }: { check: RigCheck; put: (d: Got) => void }) {
  const part = useSignal('')
  const wrong = useSignal<Wrong | null>(null)
  return (
    <Show label="A part was changed" name="parts">
      <form onSubmit={e => {
        e.preventDefault()
        call<Got>('POST', `rigs/${c.rig.id}/parts`, { part: part.value, by: settings.value!.initials }).then(g => {
          part.value = ''
          put(g)
        }, e => (wrong.value = e))
      }}>
        <p class="cap">What was checked with the old part is kept, and says nothing any more.</p>
        <Choice label="Which" words={c.parts} value={part.value} onValue={p => (part.value = p)} />
        <Trouble wrong={wrong.value} />
        <button class="button" disabled={!part.value}>Log the change</button>
      </form>
    </Show>
  )
}

/** Goes to the practice rig of which nothing is known; it is made where there is none. */
export function practise(then: (e: Wrong) => void) {
  call<Got>('POST', 'rigs/practice', {}).then(g => go(`#/rigs/${g.check.rig.id}/check`), then)
}

