// Other ways to read a needle: tapping as it passes marks, a small table, the
// steady reading alone.
import { useSignal } from '@preact/signals'
import { useEffect, useRef } from 'preact/hooks'
import { call, settings, Wrong } from './api'
import { useHead } from './card'
import { Filed, useRig, type Answer } from './count'
import { Held } from './held'
import { Field, headNav, home, Say, Sheet, Tick, Trouble, useDraft, usual } from './kit'
import { marks, needle, usualStep } from './needle'
import type { Conditions } from './types'

interface Read { time: string; reading: string; above?: boolean }

const ways: [string, string, string][] = [
  ['table', 'Table', 'Time and reading, as many as you have. Time counts from the moment the pump was shut off.'],
  ['marks', 'Tap at marks', 'Type where the needle will stand at the shut-off. Shut and press the key; then press it each time the needle passes the mark shown.'],
  ['steady', 'Steady reading only', 'Blunt. Take it where the port won’t hold at all; the pump’s own figures are needed for it to speak.'],
]

export function Readings({ id, port, way: first }: { id: string; port: string; way: string }) {
  const way = useSignal(first)
  const { data } = useHead(id)
  const { rig, loaded } = useRig(data?.head.rig)
  const unit = rig?.gauge.unit ?? settings.value!.vacuum_unit
  const inc = rig?.gauge.step || usualStep(unit)
  const p = data?.head.ports.find(x => x.id === port)
  const name = p ? p.name[0].toUpperCase() + p.name.slice(1) : 'Into the tray'
  const [d, change, clear] = useDraft('readings ' + id + ' ' + port, { rows: [{ time: '0', reading: '' }, { time: '15', reading: '' }] as Read[], above: false, taps: [] as Read[], steady: '', mark: '', every: '' })
  const how = useSignal<Conditions>(usual())
  const wrong = useSignal<Wrong | null>(null)
  const filed = useSignal<Answer | null>(null)
  const running = useSignal(false)
  const set = (i: number, part: Partial<Read>) => change({ rows: d.rows.map((r, k) => (k === i ? { ...r, ...part } : r)) })
  const valves = data?.head.valves.filter(v => p?.valves.includes(v.id))
  const file = () => {
    const typed = d.rows.filter(r => r.reading || r.time)
    const rows = way.value === 'steady' ? [{ time: '0', reading: d.steady }] : way.value === 'marks' ? d.taps : typed.map((r, i) => ({ ...r, above: d.above && i === typed.length - 1 }))
    call<Answer>('POST', 'tests', { job: id, port, source: way.value, unit, division: rig?.gauge.division ? '' : String(2 * inc), readings: rows, conditions: how.value, by: settings.value!.initials, rig: rig?.id ?? '' })
      .then(r => ((filed.value = r), (wrong.value = null), clear()), e => (wrong.value = e))
  }
  const about = ways.find(w => w[0] === way.value)!
  const marking = way.value === 'marks'
  const ready = !marking || (d.taps.length > 1 && !running.value)
  return (
    <Sheet number={data?.head.number ?? 'Readings'} title={'readings by hand: ' + name} line={'readings by hand, ' + name} nav={id ? headNav(id, '') : home('')} bench={running.value}>
      <div class="hand">
        {!running.value && !filed.value && <div class="row tabs" role="group" aria-label="Ways to read"><a class="button" href={id ? `#/heads/${id}/count/${port}` : '#/count'}>Count</a>{ways.map(([code, word]) => <button type="button" class="button" aria-pressed={way.value === code} onClick={() => ((way.value = code), (wrong.value = null))}>{word}</button>)}<a class="button" href={id ? `#/heads/${id}/upload/${port}` : '#/upload'}>Recording</a></div>}
        <h2>{name}</h2>
        {filed.value ? <Filed id={id} port={port} answer={filed.value} again={() => (filed.value = null)} /> : <form noValidate onSubmit={e => (e.preventDefault(), ready && file())} onKeyDown={e => {
          if (e.key !== 'Enter' || ready || (e.target as HTMLElement).tagName !== 'INPUT') return
          e.preventDefault() // what is not ready to be filed is begun
          document.querySelector<HTMLElement>('[data-enter]')?.click()
        }}>
          {!running.value && <p class="about">{about[2]}</p>}
          {way.value === 'steady' && <>
            <p class="about"><b><Say>{rig ? rig.blunt : loaded ? 'No rig is described yet: a steady reading alone says nothing without its pump.' : ''}</Say></b> {!rig?.blunt.startsWith('On') && loaded && <a href={rig ? `#/rigs/${rig.id}` : '#/rigs/new'}>Describe the pump</a>}</p>
            <Field label="Vacuum with the pump on, once steady" unit={unit} field="readings.0.reading" value={d.steady} onValue={steady => change({ steady })} wrong={wrong.value} mode="decimal" big />
          </>}
          {marking && <Marks d={d} change={change} unit={unit} inc={inc} running={running} wrong={wrong} />}
          {way.value === 'table' && <>
            <table class="readings"><thead><tr><th scope="col">seconds</th><th scope="col">{unit}</th></tr></thead><tbody>{d.rows.map((r, i) => <tr><td><Field label={`Time of reading ${i + 1}`} field={`readings.${i}.time`} value={r.time} onValue={time => set(i, { time })} wrong={wrong.value} mode="decimal" unit="s" /></td><td><Field label={`Reading ${i + 1}`} field={`readings.${i}.reading`} value={r.reading} onValue={reading => set(i, { reading })} wrong={wrong.value} mode="decimal" unit={unit} /></td></tr>)}</tbody></table>
            <div class="row more"><button type="button" class="button" onClick={() => {
              change({ rows: [...d.rows, { time: '', reading: '' }] })
              requestAnimationFrame(() => document.querySelector<HTMLInputElement>('.readings tr:last-child input')?.focus())
            }}>One more row</button><Tick label="Still above the last figure when I stopped" value={d.above} onValue={above => change({ above })} /></div>
          </>}
          {!running.value && <>
            <Held value={how.value} onValue={c => (how.value = c)} valves={valves} />
            {marking && wrong.value?.fields.filter(f => f.field !== 'mark').map(f => <p class="fault" role="alert"><b><Say>{f.what}</Say></b> <Say>{f.maybe}</Say></p>)}
            <Trouble wrong={wrong.value} />
            <button class={'button tall wide ' + (ready && marking ? 'ink' : 'red')} disabled={!ready} data-enter={marking ? (ready ? true : undefined) : true}>File it</button>
          </>}
        </form>}
      </div>
    </Sheet>
  )
}

interface Marking { taps: Read[]; mark: string; every: string }

/** A watch that is tapped as the needle passes marks. */
function Marks(p: { d: Marking; change: (part: Partial<Marking>) => void; unit: string; inc: number; running: { value: boolean }; wrong: { value: Wrong | null } }) {
  const { d, change, unit, inc, running } = p
  const began = useRef(0)
  const t = useSignal(0)
  useEffect(() => {
    const timer = setInterval(() => running.value && (t.value = Math.floor((performance.now() - began.current) / 1000)), 200)
    return () => {
      clearInterval(timer)
      running.value = false
    }
  }, [])
  const step = needle(d.every) || 2 * inc
  const at = needle(d.mark)
  // the first mark is the next whole one under where it stood
  const next = (Math.ceil(at / step - 1e-9) - d.taps.length) * step
  const now = () => ((performance.now() - began.current) / 1000).toFixed(1)
  const start = () => {
    if (!isFinite(at)) return void (p.wrong.value = new Wrong(0, '', '', [{ field: 'mark', what: 'Where does the needle stand at the shut-off?' }]))
    p.wrong.value = null
    began.current = performance.now()
    t.value = 0
    running.value = true
    change({ taps: [{ time: '0', reading: d.mark }] })
  }
  const tap = (above?: boolean) => {
    change({ taps: [...d.taps, { time: now(), reading: marks(next, step), above }] })
    if (above || next - step < 0) running.value = false
  }
  if (running.value)
    return (
      <section class="marking">
        <div class="band"><b>Hold</b><span>{t.value} s, {d.taps.length - 1} passed</span></div>
        <p class="cap2">The next mark, {unit}</p>
        <p class="digits">{marks(next, step)}</p>
        <div class="foot">
          <button type="button" class="button ink tall wide" data-enter onClick={() => tap()}>It passes {marks(next, step)} <kbd>Enter or pedal</kbd></button>
          <button type="button" class="button wide on" onClick={() => tap(true)}>Stop: still above {marks(next, step)}</button>
          <div class="row after">
            {d.taps.length > 1 && <button type="button" class="button grow" onClick={() => change({ taps: d.taps.slice(0, -1) })}>Undo the last</button>}
            {d.taps.length > 1 && <button type="button" class="button grow" onClick={() => (running.value = false)}>Stop here</button>}
          </div>
        </div>
      </section>
    )
  return (
    <>
      <div class="pair"><Field label="Needle at the shut-off" unit={unit} field="mark" value={d.mark} onValue={mark => change({ mark })} wrong={p.wrong.value} mode="decimal" /><Field label="A mark every" unit={unit} value={d.every} onValue={every => change({ every })} guess={marks(2 * inc, inc)} mode="decimal" /></div>
      {d.taps.length > 1 && <table class="readings taken"><thead><tr><th scope="col" class="r">seconds</th><th scope="col" class="r">{unit}</th><th /></tr></thead><tbody>{d.taps.map(r => <tr><td class="r">{r.time}</td><td class="r">{r.reading}</td><td>{r.above ? 'still above' : ''}</td></tr>)}</tbody></table>}
      <button type="button" class={'button tall wide ' + (d.taps.length > 1 ? '' : 'ink')} data-enter={d.taps.length > 1 ? undefined : true} onClick={start}>{d.taps.length > 1 ? 'Once more, from the shut-off' : 'Shut now: start the watch'}{d.taps.length > 1 ? '' : <> <kbd>Enter or pedal</kbd></>}</button>
    </>
  )
}
