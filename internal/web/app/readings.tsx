// Other ways to read a needle: tapping as it passes marks, a small table, the
// steady reading alone.
import { useSignal } from '@preact/signals'
import { useEffect, useRef } from 'preact/hooks'
import { call, settings, Wrong } from './api'
import { useHead } from './card'
import { Filed, useRig } from './count'
import { Field, headNav, home, How, howWords, Sheet, Tick, Trouble, useDraft, usual } from './kit'
import { marks, needle, usualStep } from './needle'
import type { Card, Conditions, Test } from './types'

const ways: [string, string, string][] = [
  ['table', 'Table', 'Time and reading, as many as you have. Time counts from the moment the pump was shut off.'],
  ['marks', 'Tap at marks', 'Say where the needle stands at the shut-off, then press the key each time it passes the next mark. Both hands stay free but for one tap.'],
  ['steady', 'Steady reading only', 'Blunt: a hold of 15 s is 20 to 80 times finer. Take it where the port won’t hold at all; the pump’s own figures are needed for it to speak.'],
]

export function Readings({ id, port, way: first }: { id: string; port: string; way: string }) {
  const way = useSignal(first)
  const { data } = useHead(id)
  const { rig } = useRig(data?.head.rig)
  const unit = rig?.gauge.unit ?? settings.value!.vacuum_unit
  const inc = rig?.gauge.step || usualStep(unit)
  const p = data?.head.ports.find(x => x.id === port)
  const name = p ? p.name[0].toUpperCase() + p.name.slice(1) : 'Into the tray'
  const [d, change, clear] = useDraft('readings ' + id + ' ' + port, { rows: [{ time: '0', reading: '' }, { time: '15', reading: '' }] as { time: string; reading: string }[], above: false, steady: '', mark: '', every: '' })
  const how = useSignal<Conditions>(usual())
  const more = useSignal(false)
  const wrong = useSignal<Wrong | null>(null)
  const filed = useSignal<{ test: Test; card: Card | null } | null>(null)
  const began = useRef(0)
  const running = useSignal(false)
  useEffect(() => void (running.value = false), [way.value])
  const step = needle(d.every) || 2 * inc
  const at = needle(d.mark)
  const passed = d.rows.filter(r => r.reading).length
  const tap = () => {
    if (!running.value) {
      if (!isFinite(at)) return void (wrong.value = new Wrong(0, '', '', [{ field: 'mark', what: 'Say where the needle stands at the shut-off.' }]))
      wrong.value = null
      began.current = performance.now()
      running.value = true
      return change({ rows: [{ time: '0', reading: d.mark }] })
    }
    const next = at - passed * step
    change({ rows: [...d.rows, { time: ((performance.now() - began.current) / 1000).toFixed(1), reading: marks(next, step) }] })
  }
  const set = (i: number, part: Partial<{ time: string; reading: string }>) => change({ rows: d.rows.map((r, k) => (k === i ? { ...r, ...part } : r)) })
  const file = (e: Event) => {
    e.preventDefault()
    const rows = way.value === 'steady' ? [{ time: '0', reading: d.steady }] : d.rows.filter(r => r.reading || r.time).map((r, i, all) => ({ ...r, above: d.above && i === all.length - 1 }))
    call<{ test: Test; card: Card | null }>('POST', 'tests', { job: id, port, source: way.value, unit, division: rig?.gauge.division ? '' : String(2 * inc), readings: rows, conditions: how.value, by: settings.value!.initials, rig: rig?.id ?? '' })
      .then(r => ((filed.value = r), (wrong.value = null), clear()), e => (wrong.value = e))
  }
  const about = ways.find(w => w[0] === way.value)!
  return (
    <Sheet number={data?.head.number ?? 'Readings'} title={'readings by hand: ' + name} line={'readings by hand, ' + name} nav={id ? headNav(id, '') : home('')}>
      <div class="narrow wide2">
        <h2>{name}</h2>
        {filed.value ? <Filed id={id} port={port} test={filed.value.test} card={filed.value.card} again={() => (filed.value = null)} /> : <>
          <div class="row tabs" role="group" aria-label="Ways to read"><a class="button" href={id ? `#/heads/${id}/count/${port}` : '#/count'}>Count</a>{ways.map(([code, word]) => <button type="button" class="button" aria-pressed={way.value === code} onClick={() => (way.value = code)}>{word}</button>)}<a class="button" href={id ? `#/heads/${id}/upload/${port}` : '#/upload'}>Recording</a></div>
          <p>{about[2]}</p>
          <form onSubmit={file} noValidate>
            {way.value === 'steady' && <Field label="Vacuum with the pump on, once steady" unit={unit} field="readings.0.reading" value={d.steady} onValue={steady => change({ steady })} wrong={wrong.value} mode="decimal" big />}
            {way.value === 'marks' && <>
              <div class="pair"><Field label="Needle at the shut-off" unit={unit} field="mark" value={d.mark} onValue={mark => change({ mark })} wrong={wrong.value} mode="decimal" /><Field label="A mark every" unit={unit} value={d.every} onValue={every => change({ every })} guess={marks(2 * inc, inc)} mode="decimal" /></div>
              <button type="button" class="button ink tall wide" data-enter={running.value ? true : undefined} onClick={tap}>{running.value ? `Tap at ${marks(at - passed * step, step)} ${unit}` : 'Shut now: start the watch'}</button>
            </>}
            {way.value !== 'steady' && <table class="readings"><thead><tr><th scope="col">seconds</th><th scope="col">{unit}</th></tr></thead><tbody>{d.rows.map((r, i) => <tr><td><Field label={`Time of reading ${i + 1}`} field={`readings.${i}.time`} value={r.time} onValue={time => set(i, { time })} wrong={wrong.value} mode="decimal" unit="s" /></td><td><Field label={`Reading ${i + 1}`} field={`readings.${i}.reading`} value={r.reading} onValue={reading => set(i, { reading })} wrong={wrong.value} mode="decimal" unit={unit} /></td></tr>)}</tbody></table>}
            {way.value === 'table' && <button type="button" class="button" onClick={() => change({ rows: [...d.rows, { time: '', reading: '' }] })}>One more row</button>}
            {way.value !== 'steady' && <Tick label="Still above the last figure when I stopped" value={d.above} onValue={above => change({ above })} />}
            <p class="cap">{howWords(how.value)} <button type="button" class="quiet" onClick={() => (more.value = !more.value)}>{more.value ? 'done' : 'change'}</button></p>
            {more.value && <How value={how.value} onValue={c => (how.value = c)} />}
            <Trouble wrong={wrong.value} />
            <button class="button red tall wide">File it</button>
          </form>
        </>}
      </div>
    </Sheet>
  )
}
