// The count: one key starts it, the calls say when to look, and two or three
// figures are typed afterwards.
import { useSignal } from '@preact/signals'
import { useEffect, useRef } from 'preact/hooks'
import { call, choose, settings, useGet, words, Wrong } from './api'
import { useHead } from './card'
import { Choice, Drawing, Field, go, headNav, home, How, howWords, Say, Sheet, StateWord, Swatch, Tick, Trouble, useDraft, usual } from './kit'
import { marks, needle, usualStep } from './needle'
import type { Card, Conditions, Rig, Test } from './types'
import { hasVoice, say, stayLit } from './voice'

const pull = 8 // s, before the call to shut
const hold = 15 // s

type Step = 'ready' | 'pump' | 'hold' | 'type' | 'filed'

export function useRig(id: string | undefined) {
  const { data } = useGet<{ rigs: Rig[] }>('rigs', c => c.kind === 'rig' || c.kind === 'check')
  const rigs = data?.rigs ?? []
  return { rigs, loaded: !!data, rig: rigs.find(r => r.id === id) ?? rigs.find(r => r.id === settings.value?.rig) ?? rigs[0] }
}

export function Count({ id, port, mask }: { id: string; port: string; mask?: string }) {
  const { data } = useHead(id)
  const { rig } = useRig(data?.head.rig)
  const step = useSignal<Step>('ready')
  const t = useSignal(0)
  const timer = useRef<number>(0)
  const began = useRef(0)
  const lit = useRef<(() => void) | null>(null)
  const filed = useSignal<{ test: Test; card: Card | null } | null>(null)
  const wrong = useSignal<Wrong | null>(null)
  const how = useSignal<Conditions>({ ...usual(), masked: mask ? mask.split(',') : [] })
  const more = useSignal(false)
  const [d, change, clear] = useDraft('count ' + id + ' ' + port, { shut: '', five: '', ten: '', end: '', above: false })
  const unit = rig?.gauge.unit ?? settings.value!.vacuum_unit
  const inc = rig?.gauge.step || usualStep(unit)
  const w = words.value!
  const p = data?.head.ports.find(x => x.id === port)
  const row = data?.card.rows.find(x => x.port === port)
  const nth = (row?.tests ?? 0) + 1
  const name = p ? p.name[0].toUpperCase() + p.name.slice(1) : 'Not filed yet'

  const stop = () => {
    clearInterval(timer.current)
    lit.current?.()
    lit.current = null
  }
  useEffect(() => stop, [])

  const tell = (code: string) => say(code, w.calls[code])
  const run = () => {
    stop()
    filed.value = null
    wrong.value = null
    clear()
    stayLit().then(f => (lit.current = f))

    tell("pump")
    step.value = 'pump'
    t.value = 0
    began.current = performance.now()
    timer.current = window.setInterval(tick, 100)
  }
  const shut = () => {
    step.value = 'hold'
    t.value = 0
    began.current = performance.now()
    tell('shut')
  }
  const tick = () => {
    const s = Math.floor((performance.now() - began.current) / 1000)
    if (s === t.value) return
    t.value = s
    if (step.value === 'pump' && s >= pull) return shut()
    if (step.value !== 'hold') return
    if (s === 5 || s === 10 || s === hold) tell(String(s))
    if (s >= hold) {
      stop()
      step.value = 'type'
      requestAnimationFrame(() => document.querySelector<HTMLInputElement>('.needle input')?.focus())
    }
  }
  const a = needle(d.shut), b = needle(d.end)
  const fell = isFinite(a) && isFinite(b) ? a - b : NaN
  const file = () => {
    const readings: any[] = [{ time: '0', reading: d.shut }]
    if (d.five) readings.push({ time: '5', reading: d.five })
    if (d.ten) readings.push({ time: '10', reading: d.ten })
    readings.push({ time: String(hold), reading: d.end, above: d.above })
    call<{ test: Test; card: Card | null }>('POST', 'tests', { job: id, port, source: 'count', unit, division: rig?.gauge.division ? '' : String(2 * inc), readings, conditions: how.value, by: settings.value!.initials, rig: rig?.id ?? '' }).then(r => {
      choose({ conditions: { ...how.value, turned: false, placed: false, masked: [] } })
      filed.value = r
      wrong.value = null
      clear()
      step.value = 'filed'
    }, e => {
      // the last reading is the second or third or fourth of those sent
      wrong.value = new Wrong(e.status, e.what, e.fix, e.fields.map((f: any) => ({ ...f, field: f.field.replace(`readings.${readings.length - 1}.`, 'readings.end.') })), e.now)
    })
  }
  const nav = id ? headNav(id, '') : home('')
  const line = `counted reading, test ${nth}, ${unit}`
  const mini = id && <Drawing cls="mini" way={wd => `/api/heads/${id}/plan?width=${wd}&words=none&here=${port}`} />
  const counting = step.value === 'pump' || step.value === 'hold'

  return (
    <Sheet number={counting || step.value === 'type' ? 'Counted reading' : data?.head.number ?? 'Quick test'} title={line} line={line} nav={nav} bench={step.value !== 'ready'}>
      <div class={'count-sheet ' + step.value}>
        <header class="who"><h2>{name}</h2>{mini}</header>
        {step.value === 'ready' && (
          <section class="ready">
            {!settings.value!.sound && <Choice label="How should the count be called?" words={[{ code: 'voice', word: hasVoice() ? 'aloud' : 'aloud, or by beeps: this system has no voice' }, { code: 'beeps', word: 'by beeps' }, { code: 'none', word: 'on the screen only' }]} value="" onValue={sound => choose({ sound })} />}
            <ol class="steps">
              <li>Plate on the port’s mouth, never on the chamber. Valve of the rig open.{how.value.masked && how.value.masked.length > 0 && <b> Grease the seat of {data?.head.valves.filter(v => how.value.masked!.includes(v.id)).map(v => v.name).join(' and ')} all round. </b>}{p && p.plugs.length > 0 && <b> Plug the {p.plugs.join(', the ')}.</b>}</li>
              <li>Press the key. Pump on at the first call; at <b>shut</b>, close the rig’s valve and look at the needle.</li>
              <li>Look again at <b>fifteen</b>. Type both figures afterwards.</li>
            </ol>
            <p class="cap">{howWords(how.value)} <button type="button" class="quiet" aria-expanded={more.value} onClick={() => (more.value = !more.value)}>{more.value ? 'done' : 'change'}</button></p>
            {more.value && <How value={how.value} onValue={c => (how.value = c)} valves={data?.head.valves.filter(v => p?.valves.includes(v.id))} />}
            <div class="row foot">
              <button type="button" class="button red tall grow" data-enter onClick={run}>Start the count <kbd>Enter or pedal</kbd></button>
              <a class="button tall" href={id ? `#/heads/${id}/readings/${port}` : '#/readings'}>Other ways</a>
            </div>
            <p class="cap row"><span>Calls: {settings.value!.sound === 'voice' ? 'aloud' : settings.value!.sound === 'beeps' ? 'beeps' : 'on the screen only'}</span> <button type="button" class="quiet" onClick={() => choose({ sound: '' })}>change</button> <button type="button" class="quiet" onClick={() => (say('shut', w.calls.shut))}>try it</button></p>
          </section>
        )}
        {counting && (
          <section class="counting" aria-live="off">
            <div class="band"><b>{step.value === 'pump' ? w.calls.pump[0].toUpperCase() + w.calls.pump.slice(1) : 'Hold'}</b><span>{step.value === 'pump' ? 'rig’s valve open, until it is steady' : 'valve shut, hands off'}</span></div>
            <div class="big"><span class="digits">{step.value === 'pump' ? pull - t.value : t.value}</span><p>{step.value === 'pump' ? <><b>to the call.</b><br />Shut earlier if the needle stands still.</> : [0, 5, 10, 15].includes(t.value) ? <><b>seconds.</b><br />Read the needle now.</> : <b>seconds.</b>}</p></div>
            <Ruler t={step.value === 'hold' ? t.value : 0} />
            <div class="row foot">
              {step.value === 'pump' ? <button type="button" class="button ink tall grow" data-enter onClick={shut}>Shut now <kbd>Enter or pedal</kbd></button> : t.value >= 5 ? <button type="button" class="button tall grow" onClick={() => (stop(), (step.value = 'type'))}>I have seen enough</button> : <span class="grow" />}
              <button type="button" class="button tall" onClick={() => (stop(), (step.value = 'ready'))}>Stop</button>
            </div>
          </section>
        )}
        {step.value === 'type' && (
          <form class="typing" noValidate onSubmit={e => (e.preventDefault(), file())}>
            <div class="big"><span class="digits">{hold}</span><p><b>seconds.</b><br />Now type what the needle showed.</p></div>
            <Ruler t={hold} />
            <Needle label="When the pump was shut off" value={d.shut} onValue={shut => (change({ shut }), (wrong.value = null))} unit={unit} inc={inc} wrong={wrong.value} field="readings.0.reading" />
            <Needle label={`At ${hold} seconds`} value={d.end} onValue={end => (change({ end }), (wrong.value = null))} unit={unit} inc={inc} wrong={wrong.value} field="readings.end.reading" from={d.shut} />
            <div class="row lost">
              <p class="lostwords">{isFinite(fell) ? fell >= 0 ? <>lost {marks(fell, Math.min(inc, 0.25))} {unit}<br />in {hold} s</> : <>rose: was the<br />pump still on?</> : <>&nbsp;</>}</p>
              <button type="button" class="button" onClick={() => change({ end: d.shut, above: false })}>Needle did<br />not move</button>
            </div>
            <Tick label="Still above that figure when I stopped" value={d.above} onValue={above => change({ above })} />
            {more.value ? <div class="pair"><Field label="At five seconds" unit={unit} value={d.five} onValue={five => change({ five })} mode="decimal" guess="skip" /><Field label="At ten seconds" unit={unit} value={d.ten} onValue={ten => change({ ten })} mode="decimal" guess="skip" /></div>
              : <button type="button" class="quiet" onClick={() => (more.value = true)}>I saw it at five or ten too</button>}
            <Trouble wrong={wrong.value} />
            <div class="row foot"><button class="button ink tall grow" data-enter>File it</button><button type="button" class="button tall" onClick={run}>Count<br />again</button></div>
          </form>
        )}
        {step.value === 'filed' && filed.value && <Filed id={id} port={port} test={filed.value.test} card={filed.value.card} again={() => (step.value = 'ready')} />}
      </div>
    </Sheet>
  )
}

function Ruler({ t }: { t: number }) {
  return (
    <svg class="ruler" viewBox="0 0 360 48" role="img" aria-label={`${t} of ${hold} seconds`}>
      <rect class="bar" x="1" y="14" width={(358 * t) / hold} height="14" />
      <path class="axis" d={'M1 28.5H359' + Array.from({ length: hold + 1 }, (_, i) => `M${1 + (358 * i) / hold} 28.5V${i % 5 ? 8 : 1}`).join('')} />
      {[0, 5, 10, 15].map(s => <text class="cap" x={s === 0 ? 1 : s === 15 ? 359 : 1 + (358 * s) / hold} text-anchor={s === 0 ? 'start' : s === 15 ? 'end' : 'middle'} y="45">{s}{s === 15 ? ' s' : ''}</text>)}
    </svg>
  )
}

function Needle(p: { label: string; value: string; onValue: (v: string) => void; unit: string; inc: number; wrong: Wrong | null; field: string; from?: string }) {
  const move = (by: number) => {
    const now = needle(p.value)
    const start = isFinite(now) ? now + by : needle(p.from ?? '')
    p.onValue(marks(isFinite(start) ? start : 0, p.inc))
  }
  const small = marks(p.inc, p.inc)
  return (
    <div class="needle">
      <Field label={p.label} value={p.value} onValue={p.onValue} unit={p.unit} big mode="decimal" wrong={p.wrong} field={p.field} />
      <button type="button" class="button" aria-label={`${p.label}: ${small} less`} onClick={() => move(-p.inc)}>− {small}</button>
      <button type="button" class="button" aria-label={`${p.label}: ${small} more`} onClick={() => move(p.inc)}>+ {small}</button>
    </div>
  )
}

/** What came of a test just filed: it stays here until told to go on. */
export function Filed({ id, port, test, card, again }: { id: string; port: string; test: Test; card: Card | null; again: () => void }) {
  const row = card?.rows.find(r => r.port === port)
  const mine = card?.next.find(n => n.port === port)
  const next = card?.next.find(n => n.port && n.port !== port)
  const state = row?.state ?? test.reading.state
  const refile = useSignal(false)
  const nextRow = card?.rows.find(r => r.port === next?.port)
  return (
    <section class="filed">
      <div class="answer"><Swatch state={state} size={64} /><div><p class="verdictword"><StateWord state={state} word={row?.word ?? test.reading.word} /></p><p class="cap">{test.reading.lost}</p></div>
        {row?.leak && <p class={'figure ' + (state === 'leaks' ? 'leaks' : '') + (/[a-z]/.test(row.leak) ? ' long' : '')}>{row.leak}<small> <Say>{card!.unit}</Say></small></p>}</div>
      {row?.again && <p class="again">{row.of} <b>{row.this}</b>, this port, tested again <b>{row.again}</b>, limit of one valve <b>{row.limit}</b></p>}
      {test.reading.refusal && <p class="again"><b><Say>{test.reading.refusal.what}</Say></b> <Say>{test.reading.refusal.do}</Say></p>}
      {!row && !test.reading.refusal && <p class="again"><Say>{test.reading.line}</Say></p>}
      {test.reading.guessed.length > 0 && <p class="cap">Guessed: <Say>{test.reading.guessed.join('; ')}</Say>.</p>}
      {mine && state !== 'not tested' && <p class="again"><b>The one thing to do:</b> <Say>{mine.words}</Say></p>}
      <div class="col foot">
        {next ? <button type="button" class="button ink tall" data-enter onClick={() => go(`#/heads/${id}/count/${next.port}`)}>Next: {nextRow?.name}</button>
          : <a class="button ink tall" data-enter href={id ? '#/heads/' + id : '#/tray'}>{id ? 'To the job card' : 'To the tray'}</a>}
        <div class="row"><button type="button" class="button tall grow" data-key="a" onClick={again}>Again <kbd>A</kbd></button>
          <button type="button" class="button tall grow" data-key="f" aria-expanded={refile.value} onClick={() => (refile.value = !refile.value)}>Refile <kbd>F</kbd></button></div>
      </div>
      {refile.value && <Move test={test} done={to => go(to)} />}
    </section>
  )
}

/** Moves a test to another port. */
export function Move({ test, done }: { test: Test; done: (to: string) => void }) {
  const job = useSignal(test.job)
  const { data: all } = useGet<{ heads: { id: string; number: string }[] }>('heads', () => false)
  const { data } = useHead(job.value)
  const wrong = useSignal<Wrong | null>(null)
  const to = (j: string, port: string) => call<{ test: Test }>('POST', `tests/${test.id}/move`, { rev: test.rev, by: settings.value!.initials, job: j, port }).then(() => done(j ? `#/heads/${j}/ports/${port}` : '#/tray'), e => (wrong.value = e))
  return (
    <section class="move" aria-label="Where does this test belong?">
      <h3>Where does this test belong?</h3>
      <Choice label="Head" words={[...(all?.heads ?? []).map(h => ({ code: h.id, word: h.number })), { code: '', word: 'the tray' }]} value={job.value} onValue={v => (job.value = v)} />
      <div class="grid">
        {job.value ? data?.head.ports.map(p => <button type="button" class="button" disabled={p.id === test.port && job.value === test.job} onClick={() => to(job.value, p.id)}>{p.name}</button>)
          : <button type="button" class="button" disabled={!test.job} onClick={() => to('', '')}>Into the tray</button>}
      </div>
      <Trouble wrong={wrong.value} />
    </section>
  )
}
