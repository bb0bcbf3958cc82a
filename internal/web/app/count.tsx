// The count: one key starts it, the calls say when to look, and two or three
// figures are typed afterwards.
import { useSignal } from '@preact/signals'
import { useEffect, useRef } from 'preact/hooks'
import { call, choose, settings, useGet, words, Wrong } from './api'
import { useHead } from './card'
import { Held } from './held'
import { Choice, Drawing, Field, go, headNav, home, Say, Sheet, StateWord, Swatch, Tick, Trouble, useDraft, usual } from './kit'
import { Move } from './move'
import { marks, needle, usualStep } from './needle'
import type { Card, Conditions, Rig, Row, Test } from './types'
import { aloud, prepare, say, stayLit, tell as speak, wake } from './voice'

const pull = 8 // s, before the call to shut
const hold = 15 // s

type Step = 'ready' | 'pump' | 'hold' | 'type' | 'filed'

export interface Answer { test: Test; card: Card | null; intervals: string; narrow: { words: string; rig: string } | null }

/** Every test of a port, those that stand aside too. */
const allOf = (row: Row | undefined) => (row ? row.tests + Object.keys(row.aside).length : 0)

const seconds = (t: number) => t.toFixed(t % 1 ? 1 : 0)

export function useRig(id: string | undefined) {
  const { data } = useGet<{ rigs: Rig[] }>('rigs', c => c.kind === 'rig' || c.kind === 'check')
  const rigs = data?.rigs ?? []
  return { rigs, loaded: !!data, rig: rigs.find(r => r.id === id) ?? rigs.find(r => r.id === settings.value?.rig) ?? rigs[0] }
}

export function Count({ id, port, mask }: { id: string; port: string; mask?: string }) {
  const { data } = useHead(id)
  const { rig, loaded } = useRig(data?.head.rig)
  const t = useSignal(0)
  const timer = useRef<number>(0)
  const began = useRef(0)
  const lit = useRef<(() => void) | null>(null)
  const filed = useSignal<Answer | null>(null)
  const wrong = useSignal<Wrong | null>(null)
  const more = useSignal(false)
  // over: how long it was held [s]; 0: nothing to type yet
  const [d, change, clear] = useDraft('count ' + id + ' ' + port, { shut: '', five: '', ten: '', end: '', above: false, over: 0, how: null as Conditions | null })
  const how = useSignal<Conditions>(d.how ?? { ...usual(), masked: mask ? mask.split(',') : [] })
  const step = useSignal<Step>(d.over ? 'type' : 'ready') // a page loaded again still asks for the figures
  const unit = rig?.gauge.unit ?? settings.value!.vacuum_unit
  const inc = rig?.gauge.step || usualStep(unit)
  const w = words.value!
  const p = data?.head.ports.find(x => x.id === port)
  const row = data?.card.rows.find(x => x.port === port)
  const nth = filed.value ? allOf(filed.value.card?.rows.find(x => x.port === port)) || 1 : allOf(row) + 1
  const name = p ? p.name[0].toUpperCase() + p.name.slice(1) : 'Not filed yet'

  const stop = () => {
    clearInterval(timer.current)
    lit.current?.()
    lit.current = null
  }
  useEffect(() => stop, [])

  const tell = (code: string) => say(code, w.calls[code])
  useEffect(() => prepare([p?.name ?? '', ...Object.values(w.calls)]), [p?.name, settings.value!.sound])
  const nameIt = () => (p ? speak(p.name) : Promise.resolve())
  const run = () => {
    stop()
    filed.value = null
    wrong.value = null
    clear()
    more.value = false
    if (!settings.value!.sound) choose({ sound: 'voice' }) // not asked, so heard
    stayLit().then(f => (lit.current = f))
    step.value = 'pump'
    t.value = 0
    began.current = Infinity // the port is named first
    wake()
    const mine = (timer.current = window.setInterval(tick, 100))
    nameIt().then(() => {
      if (timer.current !== mine || step.value !== 'pump') return
      tell('pump')
      began.current = performance.now()
    })
  }
  const shut = () => {
    step.value = 'hold'
    t.value = 0
    began.current = performance.now()
    tell('shut')
  }
  const tick = () => {
    const s = Math.floor((performance.now() - began.current) / 1000)
    if (s < 0 || s === t.value) return
    t.value = s
    if (step.value === 'pump' && s >= pull) return shut()
    if (step.value !== 'hold') return
    if (s === 5 || s === 10 || s === hold) tell(String(s))
    if (s >= hold) over(hold)
  }
  const over = (t: number) => {
    stop()
    change({ over: t, how: how.value })
    step.value = 'type'
    requestAnimationFrame(() => document.querySelector<HTMLInputElement>('.needle input')?.focus())
  }
  const held = d.over || hold
  const a = needle(d.shut), b = needle(d.end)
  const fell = isFinite(a) && isFinite(b) ? a - b : NaN
  const file = () => {
    const readings: any[] = [{ time: '0', reading: d.shut }]
    if (d.five && held > 5) readings.push({ time: '5', reading: d.five })
    if (d.ten && held > 10) readings.push({ time: '10', reading: d.ten })
    readings.push({ time: seconds(held), reading: d.end, above: d.above })
    call<Answer>('POST', 'tests', { job: id, port, source: 'count', unit, division: rig?.gauge.division ? '' : String(2 * inc), readings, conditions: how.value, by: settings.value!.initials, rig: rig?.id ?? '' }).then(r => {
      choose({ conditions: { ...how.value, turned: false, placed: false, masked: [] } })
      filed.value = r
      wrong.value = null
      clear()
      step.value = 'filed'
      speak(p?.name ?? '', w.spoken[r.card?.rows.find(x => x.port === port)?.state ?? r.test.reading.state])
    }, e => {
      // the last reading is the second or third or fourth of those sent
      wrong.value = new Wrong(e.status, e.what, e.fix, e.fields.map((f: any) => ({ ...f, field: f.field.replace(`readings.${readings.length - 1}.`, 'readings.end.') })), e.now)
    })
  }
  const nav = id ? headNav(id, '') : home('')
  const mini = id && <Drawing cls="mini" way={wd => `/api/heads/${id}/plan?width=${wd}&words=none&here=${port}`} />
  const valves = data?.head.valves.filter(v => p?.valves.includes(v.id))
  const bench = step.value === 'pump' || step.value === 'hold' || step.value === 'type'
  const line = `${bench ? '' : 'counted reading, '}test ${nth}, ${unit}`
  const counting = step.value === 'pump' || step.value === 'hold'

  return (
    <Sheet number={bench ? 'Counted reading' : data?.head.number ?? 'Quick test'} title={line} line={line} nav={nav} bench={step.value !== 'ready'}>
      <div class={'count-sheet ' + step.value}>
        <header class="who"><h2>{name}</h2>{mini}</header>
        {step.value === 'ready' && (
          <section class="ready">
            {!settings.value!.sound && <Choice label="How should the count be called?" words={[{ code: 'voice', word: { voice: 'aloud', clips: 'aloud, by recorded words', beeps: 'aloud where there is a voice; here by beeps' }[aloud()] }, { code: 'beeps', word: 'by beeps' }, { code: 'none', word: 'on the screen only' }]} value="" onValue={sound => choose({ sound })} />}
            {loaded && !rig && <div class="nogauge"><Choice label="Your gauge reads in" words={w.units.vacuum.map(u => ({ code: u, word: u }))} value={unit} onValue={u => choose({ vacuum_unit: u })} /><p class="cap">Its lines are taken to be {marks(2 * inc, inc)} {unit} apart. <a href="#/rigs/new">Describe the rig</a> to say otherwise.</p></div>}
            <Held value={how.value} onValue={c => (how.value = c)} valves={valves} />
            {nth > 1 && <div class="ticks since"><Tick label="Valves turned and dropped since" value={how.value.turned} onValue={turned => (how.value = { ...how.value, turned })} /><Tick label="Plate put down again" value={how.value.placed} onValue={placed => (how.value = { ...how.value, placed })} /></div>}
            <ol class="steps">
              <li>Plate on the port’s mouth, never on the chamber. Valve of the rig open.{how.value.masked && how.value.masked.length > 0 && <b> Grease the seat of {data?.head.valves.filter(v => how.value.masked!.includes(v.id)).map(v => v.name).join(' and ')} all round. </b>}{p && p.plugs.length > 0 && <b> Plug the {p.plugs.join(', the ')}.</b>}</li>
              <li>Press the key. Pump on at the first call; at <b>shut</b>, close the rig’s valve and look at the needle.</li>
              <li>Look again at <b>fifteen</b>. Type both figures afterwards.</li>
            </ol>
            {!isSecureContext && <p class="cap"><Say>{w.plain.screen}</Say></p>}
            <div class="foot">
              <div class="row">
                <button type="button" class="button red tall grow" data-enter onClick={run}>Start the count <kbd>Enter or pedal</kbd></button>
                <a class="button tall" href={id ? `#/heads/${id}/readings/${port}` : '#/readings'}>Other ways</a>
              </div>
              {settings.value!.sound && <p class="cap calls"><span>Calls: {settings.value!.sound === 'voice' ? { voice: 'aloud', clips: 'aloud, by recorded words', beeps: 'beeps' }[aloud()] : settings.value!.sound === 'beeps' ? 'beeps' : 'on the screen only'}</span> <button type="button" class="quiet" onClick={() => choose({ sound: '' })}>change</button>{settings.value!.sound !== 'none' && <button type="button" class="quiet" onClick={() => (wake(), say('shut', w.calls.shut))}>try it</button>}</p>}
            </div>
          </section>
        )}
        {counting && (
          <section class="counting" aria-live="off">
            <div class="band"><b>{step.value === 'pump' ? w.calls.pump[0].toUpperCase() + w.calls.pump.slice(1) : 'Hold'}</b><span>{step.value === 'pump' ? 'rig’s valve open, until it is steady' : 'valve shut, hands off'}</span></div>
            <div class="big"><span class="digits">{step.value === 'pump' ? pull - t.value : t.value}</span><p>{step.value === 'pump' ? <><b>to the call.</b><br />Shut earlier if the needle stands still.</> : [0, 5, 10, 15].includes(t.value) ? <><b>seconds.</b><br />Read the needle now.</> : <><b>seconds.</b><br />Hands off.</>}</p></div>
            <Ruler t={step.value === 'hold' ? t.value : 0} />
            <div class="row foot">
              {step.value === 'pump' ? <button type="button" class="button ink tall grow" data-enter onClick={shut}>Shut now <kbd>Enter or pedal</kbd></button> : t.value >= 5 ? <button type="button" class="button tall grow" onClick={() => over(Math.round((performance.now() - began.current) / 100) / 10)}>I have seen enough</button> : <span class="grow" />}
              <button type="button" class="button tall" onClick={() => (stop(), (step.value = 'ready'))}>Stop</button>
            </div>
          </section>
        )}
        {step.value === 'type' && (
          <form class="typing" noValidate onSubmit={e => (e.preventDefault(), file())}>
            <div class="big"><span class="digits">{seconds(held)}</span><p><b>seconds.</b><br />Now type what the needle showed.</p></div>
            <Needle label="When the pump was shut off" value={d.shut} onValue={shut => (change({ shut }), (wrong.value = null))} unit={unit} inc={inc} wrong={wrong.value} field="readings.0.reading" />
            <Needle label={`At ${seconds(held)} seconds`} value={d.end} onValue={end => (change({ end }), (wrong.value = null))} unit={unit} inc={inc} wrong={wrong.value} field="readings.end.reading" from={d.shut} />
            <div class="row lost">
              <p class="lostwords">{isFinite(fell) ? fell >= 0 ? <>lost {d.above && 'under '}{marks(fell, Math.min(inc, 0.25))} {unit}<br />in {seconds(held)} s</> : <>rose: was the<br />pump still on?</> : <>&nbsp;</>}</p>
              <button type="button" class="button" onClick={() => change({ end: d.shut, above: false })}>Needle did<br />not move</button>
            </div>
            <Tick label="Still above that figure when I stopped" value={d.above} onValue={above => change({ above })} />
            <Held value={how.value} onValue={c => ((how.value = c), change({ how: c }))} valves={valves} short />
            {held > 5 && (more.value ? <div class="pair five"><Field label="At five seconds" unit={unit} value={d.five} onValue={five => change({ five })} mode="decimal" guess="skip" />{held > 10 && <Field label="At ten seconds" unit={unit} value={d.ten} onValue={ten => change({ ten })} mode="decimal" guess="skip" />}</div>
              : <button type="button" class="quiet" onClick={() => (more.value = true)}>I saw it at five or ten too</button>)}
            <Trouble wrong={wrong.value} />
            <div class="row foot"><button class="button ink tall grow" data-enter>File it</button><button type="button" class="button tall" onClick={run}>Count<br />again</button></div>
          </form>
        )}
        {step.value === 'filed' && filed.value && <Filed id={id} port={port} answer={filed.value} again={() => ((filed.value = null), (how.value = { ...how.value, turned: false, placed: false }), (step.value = 'ready'))} />}
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
export function Filed({ id, port, answer, again }: { id: string; port: string; answer: Answer; again: () => void }) {
  const { test, card, intervals, narrow } = answer
  const row = card?.rows.find(r => r.port === port)
  const mine = card?.next.find(n => n.port === port)
  const next = card?.next.find(n => n.port && n.port !== port)
  const state = row?.state ?? test.reading.state
  const leak = row ? row.leak : test.reading.leak // a test of no head has no limit yet
  const refile = useSignal(false)
  const nextRow = card?.rows.find(r => r.port === next?.port)
  return (
    <section class="filed">
      <div class="answer"><Swatch state={state} size={64} /><div><p class="verdictword"><StateWord state={state} word={row?.word ?? test.reading.word} /></p><p class="cap"><Say>{[test.reading.lost, test.how.split(',')[0]].filter(Boolean).join(', ')}</Say></p></div>
        {leak && <p class={'figure ' + (state === 'leaks' ? 'leaks' : '') + (/[a-z]/.test(leak) ? ' long' : '')}>{leak}<small> <Say>{card?.unit ?? 'cm³/min'}</Say></small></p>}</div>
      {row?.again && <p class="again">{row.of} <b>{row.this}</b>, this port, tested again <b>{row.again}</b>, limit of one valve <b>{row.limit}</b></p>}
      {row?.again && intervals && <div class="ivbox" dangerouslySetInnerHTML={{ __html: intervals }} />}
      {test.reading.refusal && <p class="again"><b><Say>{test.reading.refusal.what}</Say></b> <Say>{test.reading.refusal.do}</Say></p>}
      {!row && leak && <p class="again">this trace <b>{test.reading.this}</b>, this port, tested again <b>{test.reading.again}</b>. Filed under a port it gets its verdict.</p>}
      {!row && !leak && !test.reading.refusal && <p class="again"><Say>{test.reading.line}</Say></p>}
      {!row && test.reading.warnings.map(w => <p class="again"><b><Say>{w.what}</Say></b> <Say>{w.do}</Say></p>)}
      {mine && state !== 'not tested' && <p class="again todo"><b>The one thing to do:</b> <Say>{mine.words}</Say></p>}
      {narrow && <p class="cap again"><Say>{narrow.words}</Say> <a href={`#/rigs/${narrow.rig}/check`}>Check the rig</a></p>}
      {test.reading.guessed.length > 0 && <p class="cap again">Guessed: <Say>{test.reading.guessed.join('; ')}</Say>.</p>}
      {row && row.off.length > 0 && state === 'holds' && <p class="cap again">Not for the sign-off yet: <Say>{row.off.join('; ')}</Say>.</p>}
      {refile.value && <Move test={test} done={to => go(to)} />}
      <div class="foot">
        {row?.tests === 1 && !row.lapsed && <p class="cap more1">A second test, valves turned and dropped and the plate put down again, narrows <i>tested again</i>.</p>}
        <div class="row"><button type="button" class="button tall grow" data-key="a" onClick={again}>Again <kbd>A</kbd></button>
          <button type="button" class="button tall" data-key="f" aria-expanded={refile.value} onClick={() => (refile.value = !refile.value)}>Refile <kbd>F</kbd></button></div>
        {next ? <button type="button" class="button ink tall wide on" data-enter onClick={() => (speak('next', nextRow?.name ?? ''), go(`#/heads/${id}/count/${next.port}`))}>Next: {nextRow?.name} <kbd>Enter</kbd></button>
          : <a class="button ink tall wide on" data-enter href={id ? '#/heads/' + id : '#/tray'}>{id ? 'To the job card' : 'To the tray'} <kbd>Enter</kbd></a>}
      </div>
    </section>
  )
}
