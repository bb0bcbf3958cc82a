import { useSignal } from '@preact/signals'
import { useEffect, useRef } from 'preact/hooks'
import { call, send, settings, Wrong } from './api'
import { useHead } from './card'
import { Filed, useRig, type Answer } from './count'
import { Held } from './held'
import { headNav, home, Say, Sheet, Trouble, usual } from './kit'
import type { Conditions, Preview } from './types'

/** A recording: what each column was taken for is said, and can be put right. */
export function Upload({ id, port }: { id: string; port: string }) {
  const { data } = useHead(id)
  const { rig } = useRig(data?.head.rig)
  const p = data?.head.ports.find(x => x.id === port)
  const part = useSignal(-1) // of the file that is sent; below 0: nothing is
  const chosen = useSignal<File | null>(null) // kept until another is: it can be sent again
  const seen = useSignal<Preview | null>(null)
  const wrong = useSignal<Wrong | null>(null)
  const columns = useSignal('')
  const how = useSignal<Conditions>(usual())
  const filed = useSignal<Answer | null>(null)
  const stop = useRef<() => void>(() => {})
  useEffect(() => () => stop.current(), []) // who leaves the sheet needs no answer
  const look = (form: FormData) => {
    stop.current()
    wrong.value = null
    part.value = 0
    const s = send<Preview>('preview', form, x => stop.current === s.stop && (part.value = x))
    stop.current = s.stop
    const mine = (then: () => void) => stop.current === s.stop && (then(), (part.value = -1), (stop.current = () => {}))
    s.done.then(r => mine(() => (seen.value = r)), e => mine(() => (wrong.value = e)))
  }
  // What is said of a file goes before it: the server reads it as it comes.
  const saying = (columns: string) => {
    const form = new FormData()
    form.append('rig', rig?.id ?? '')
    if (columns) form.append('columns', columns)
    return form
  }
  const take = (f: File | null | undefined) => {
    if (!f) return
    chosen.value = f
    columns.value = ''
    seen.value = null
    const form = saying('')
    form.append('file', f, f.name)
    look(form)
  }
  const s = seen.value
  const correct = (i: number, taken: string, unit: string) => {
    const spec = s!.columns.map((c, k) => {
      const [t, u] = k === i ? [taken, unit] : [c.taken, c.unit]
      if (t === '-' || (k !== i && taken !== '-' && (t === 'time') === (taken === 'time') && t !== '-')) return '-'
      if (t === 'time') return u === 'stamp' ? 'stamp' : u || 's'
      return `${u || 'kPa'} ${t === 'pressure' ? 'vacuum' : t === 'absolute' ? 'abs' : t}`
    }).join(', ')
    columns.value = spec
    const form = saying(spec)
    form.append('trace', s!.trace)
    look(form)
  }
  const file = () => call<Answer>('POST', 'tests', { job: id, port, source: 'file', trace: s!.trace, columns: columns.value, conditions: how.value, by: settings.value!.initials, rig: rig?.id ?? '' }).then(r => (filed.value = r), e => (wrong.value = e))
  const name = p ? p.name[0].toUpperCase() + p.name.slice(1) : 'Into the tray'
  return (
    <Sheet number={data?.head.number ?? 'Recording'} title={'recording: ' + name} line={'recording, ' + name} nav={id ? headNav(id, '') : home('')}>
      <div class="hand wide3">
        <h2>{name}</h2>
        {filed.value ? <Filed id={id} port={port} answer={filed.value} again={() => ((filed.value = null), (seen.value = null))} /> : <>
          <label class="drop" onDragOver={e => e.preventDefault()} onDrop={e => (e.preventDefault(), take(e.dataTransfer?.files[0]))}><b>{chosen.value ? 'Choose another file' : 'Choose a recording, or drop it here'}</b><span>CSV or text as loggers write it, JSON lines; up to 1 GB</span><input type="file" onChange={e => take((e.target as HTMLInputElement).files?.[0])} /></label>
          {part.value >= 0 && <div class="row sending"><progress max={1} value={part.value} aria-label="Sent so far" /> <span>{part.value < 1 ? `Sending ${chosen.value?.name ?? ''}: ${Math.floor(part.value * 100)} %${chosen.value ? ' of ' + megabytes(chosen.value.size) : ''}` : 'Sent. It is being read.'}</span> <button type="button" class="button" onClick={() => stop.current()}>Stop</button></div>}
          {wrong.value?.fields.map(f => <p class="fault" role="alert"><b><Say>{f.what}</Say></b> <Say>{f.maybe}</Say></p>)}
          <Trouble wrong={wrong.value} />
          {[0, 503].includes(wrong.value?.status ?? -1) && !s && chosen.value && part.value < 0 && <p class="row"><span>{chosen.value.name}, {megabytes(chosen.value.size)}</span> <button type="button" class="button" onClick={() => take(chosen.value)}>Send it again</button></p>}
          {s && <>
            <p><b>{s.name}</b>{s.says && ': ' + s.says}</p>
            {s.error_now && <p class="fault" role="alert"><b><Say>{s.error_now.what}</Say></b> Say below what the columns hold.</p>}
            {s.faults.map(f => <p class="cap">{f}</p>)}
            <div class="columns">{s.columns.map((c, i) => (
              <div class={'column' + (c.taken === '-' ? ' off' : '')}>
                <b>{c.head || `column ${i + 1}`}</b>
                <label>taken for<select value={c.taken} onChange={e => correct(i, (e.target as HTMLSelectElement).value, '')}>{s.choices.taken.map(t => <option value={t.code}>{t.word}</option>)}{c.taken === 'pressure' && <option value="pressure">pressure, settled by its figures</option>}</select></label>
                {c.taken !== '-' && <label>in<select value={c.unit} onChange={e => correct(i, c.taken, (e.target as HTMLSelectElement).value)}>{[...new Set([c.unit, ...(c.taken === 'time' ? s.choices.time_units : s.choices.pressure_units)])].map(u => <option value={u}>{u}</option>)}</select></label>}
                <pre>{c.cells.slice(0, 5).join('\n')}</pre>
              </div>
            ))}</div>
            {s.points.length > 1 && <Spark points={s.points} unit={s.unit} />}
            <Held value={how.value} onValue={c => (how.value = c)} valves={data?.head.valves.filter(v => p?.valves.includes(v.id))} />
            <button type="button" class="button red tall" data-enter disabled={!!s.error_now} onClick={file}>File it</button>
          </>}
        </>}
      </div>
    </Sheet>
  )
}

const megabytes = (n: number) => (n < 1e6 ? `${Math.ceil(n / 1000)} kB` : `${(n / 1e6).toFixed(n < 1e7 ? 1 : 0)} MB`)

/** A thumbnail of the whole recording. */
function Spark({ points, unit }: { points: [number, number][]; unit: string }) {
  const xs = points.map(p => p[0]), ys = points.map(p => p[1])
  const x0 = Math.min(...xs), x1 = Math.max(...xs), y1 = Math.max(...ys), y0 = Math.min(0, ...ys)
  const d = points.map((p, i) => `${i ? 'L' : 'M'}${(((p[0] - x0) / (x1 - x0 || 1)) * 600).toFixed(1)} ${(100 - ((p[1] - y0) / (y1 - y0 || 1)) * 96).toFixed(1)}`).join('')
  return <figure class="spark"><svg viewBox="0 0 600 104" role="img" aria-label={`The recording: ${Math.round(x1 - x0)} s, deepest ${y1.toFixed(1)} ${unit}`} class="d" preserveAspectRatio="none"><path class="axis" d="M0 0V103H600" /><path class="thin" d={d} vector-effect="non-scaling-stroke" /></svg><figcaption class="cap row between"><span>{x0.toFixed(0)} s</span><span>deepest {y1.toFixed(1)} {unit}</span><span>{x1.toFixed(0)} s</span></figcaption></figure>
}
