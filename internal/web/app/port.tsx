import { useSignal } from '@preact/signals'
import { useRef, useState } from 'preact/hooks'
import { call, settings, useGet, Wrong } from './api'
import { Plot } from './chart'
import { BinnedTest, TestEdit } from './edit'
import { Move } from './count'
import { Drawing, Field, headNav, Say, Sheet, Show, StateWord, Swatch, TitleBlock, Trouble } from './kit'
import type { Picture, PortSheet as Data, Test } from './types'

const Cube = ({ u }: { u: string }) => <Say>{u}</Say>

/** All there is of one port: tests over time, the figure, the next step, the log. */
export function PortSheet({ id, port }: { id: string; port: string }) {
  const { data, wrong, again } = useGet<Data>(`heads/${id}/ports/${port}`, c => c.job === id || c.id === id || c.kind === 'rig' || c.kind === 'settings')
  const moving = useSignal<string>('')
  const gone = useSignal<Test[]>([]) // into the bin a moment ago
  if (!data) return <Sheet number="Port" title="" nav={headNav(id, 'ports')}><Trouble wrong={wrong} /></Sheet>
  const { row, tests, chart } = data
  const name = data.port.name[0].toUpperCase() + data.port.name.slice(1)
  const counted = new Map(chart.traces.map((t, i) => [t.test, i]))
  const pic = lineOf
  return (
    <Sheet wide number={data.head.number} title={data.head.title} line={name} nav={headNav(id, 'ports')} act={<a class="act" href={`#/heads/${id}/count/${port}`} data-key="a">Test again <kbd>A</kbd></a>}>
      <div class="portgrid">
        <section class="chart-side">
          <header class="ask-head"><Swatch state={row.state} size={58} /><div><p class="cap2">{name}, {data.port.valves.length === 1 ? 'one valve' : data.port.valves.length + ' valves on one port'}</p><h2 class={row.state === 'leaks' ? 'isleak' : ''}>{row.state === 'leaks' ? <StateWord state="leaks" word={data.question} /> : <Say>{data.question}</Say>}</h2></div></header>
          {row.lapsed && <p class="pad"><b>Lapsed:</b> {row.lapsed}. The old figures are kept.</p>}
          {chart.traces.some(t => t.points.length > 1) ? <Plot chart={chart} name={name} /> : <div class="nothing"><Drawing way={w => `/api/heads/${id}/plan?width=${Math.min(w, 520)}&words=none&here=${port}`} /><p><b>No test of this port yet.</b> Count it: about two minutes.</p></div>}
          <table class="tests">
            <thead><tr><th scope="col"><span class="vh">Line</span></th><th scope="col">how</th><th scope="col">hold</th><th scope="col" class="r"><Cube u={data.unit} /></th><th scope="col" class="r">this trace</th><th scope="col"><span class="vh">Move</span></th></tr></thead>
            <tbody>
              {gone.value.map(t => <tr class="sub"><td colSpan={6}><BinnedTest test={t} done={b => ((gone.value = gone.value.filter(x => x.id !== b.id)), again())} /></td></tr>)}
              {tests.map(t => (
                <>
                  <tr class={counted.has(t.id) ? '' : 'aside'}>
                    <th scope="row">{counted.has(t.id) ? <>{pic(counted.get(t.id)!)} {chart.traces[counted.get(t.id)!].name}</> : 'aside'}</th>
                    <td><b>{t.when}</b> {t.source_word}, {t.how}{t.note && <>. {t.note}</>}{row.aside[t.id] && <span class="cap">. Stands aside: {row.aside[t.id]}</span>}</td>
                    <td class="nw">{t.reading.refusal ? 'refused' : <Say>{t.reading.lost}</Say>}</td>
                    <td class="r fig">{t.reading.leak}</td>
                    <td class="r nw">{t.reading.this}</td>
                    <td class="r"><button type="button" class="quiet" data-key={t === tests[0] ? 'm' : undefined} aria-label={`Move${t === tests[0] ? ' M' : ''}: the test of ${t.when}`} onClick={() => (moving.value = moving.value === t.id ? '' : t.id)}>Move{t === tests[0] && <> <kbd>M</kbd></>}</button></td>
                  </tr>
                  {t.reading.refusal && <tr class="sub"><td colSpan={6}><b><Say>{t.reading.refusal.what}</Say></b> <Say>{t.reading.refusal.do}</Say></td></tr>}
                  {moving.value === t.id && <tr class="sub"><td colSpan={6}><Move test={t} done={to => ((moving.value = ''), (location.hash = to), again())} /><TestEdit test={t} done={again} /><Bin test={t} done={b => ((moving.value = ''), (gone.value = [b, ...gone.value]), again())} /></td></tr>}
                </>
              ))}
            </tbody>
          </table>
          <p class="cap pad">Free air at 50 kPa vacuum. Tests made otherwise than the newest, or before the last work, stand aside.</p>
        </section>
        <section class="figure-side">
          {row.leak && (
            <div class="block">
              <p class={'thefigure ' + (row.state === 'leaks' ? 'leaks' : '')}>{row.state === 'lapsed' ? <s>{row.leak}</s> : row.leak} <small><Cube u={data.unit} /></small></p>
              <ul class="ivs"><li><svg width="26" height="12" aria-hidden="true"><rect class="bar" y="2" width="26" height="9" /></svg> {row.of} <b>{row.this}</b></li><li><svg width="26" height="12" aria-hidden="true"><path class="iv" d="M1 6H25M1 1V11M25 1V11" /></svg> tested again <b>{row.again}</b></li></ul>
              <div class="ivbox" dangerouslySetInnerHTML={{ __html: data.intervals }} />
              <p>Limit of one valve <b>{row.limit}</b>, chance of being over <b>{row.chance}</b>.</p>
              {row.off.length > 0 && row.state === 'holds' && <p class="cap">Does not count for the sign-off: <Say>{row.off.join('; ')}</Say>.</p>}
              {row.odd && <p class="cap">It <Say>{row.odd}</Say>.</p>}
              {data.guessed.length > 0 && <p class="cap">Guessed: <Say>{data.guessed.join('; ')}</Say>.</p>}
              <Show label={'Where ' + row.leak + ' comes from'} name="detail">
                <dl class="detail">{data.detail.map(r => <><dt>{r.name}</dt><dd><Say>{r.words}</Say></dd></>)}</dl>
                <table class="budget"><caption>Shares of the doubt of this trace</caption><tbody>{data.budget.filter(b => b.share >= 0.005).map(b => <tr><th scope="row">{b.input}</th><td class="r">{b.percent}</td></tr>)}</tbody></table>
              </Show>
            </div>
          )}
          {data.notes.map(n => <p class="block note"><b><Say>{n.what}</Say></b> <Say>{n.do}</Say></p>)}
          {data.next && (
            <div class="block onething"><Drawing cls="mini" way={w => `/api/heads/${id}/plan?width=${w}&words=none&here=${port}`} />
              <div><p class="red">The one thing to do</p><h3><Say>{row.state === 'leaks' ? data.next.words : data.next.words[0].toUpperCase() + data.next.words.slice(1)}</Say></h3><p class="cap"><Say>{data.next.reason}</Say></p>
                <a class="button red" href={`#/heads/${id}/count/${port}${data.next.valves.length ? '?mask=' + data.next.valves.join(',') : ''}`} data-enter>{data.next.valves.length ? 'Test with it masked' : tests.length ? 'Test again' : 'Test it'} <kbd>Enter</kbd></a></div></div>
          )}
          <div class="block"><div class="row between"><h3>Log of work</h3><a class="quiet" href={`#/heads/${id}/work/${port}`} data-key="w">Log work <kbd>W</kbd></a></div>
            {data.work.length ? <table class="log"><tbody>{data.work.map(x => <tr><td class="nw">{x.when}</td><td>{x.word[0].toUpperCase() + x.word.slice(1)}{x.on.length ? ': ' + x.on.join('; ') : ', the whole head'}{x.note && <>. {x.note}</>}</td><td>{x.by}</td></tr>)}</tbody></table> : <p class="cap">Nothing was done to its valves yet.</p>}
          </div>
          <Pictures id={id} port={port} all={data.pictures} done={again} />
          <div class="block row"><a class="button" href={`#/heads/${id}/upload/${port}`}>Send a recording</a><a class="button" href={`#/heads/${id}/readings/${port}`}>Type readings</a></div>
          <TitleBlock rows={data.title_block} />
        </section>
      </div>
    </Sheet>
  )
}

const dashes = ['', '8 4', '2 4', '12 4 2 4', '1 3']
const lineOf = (i: number) => <svg width="44" height="10" aria-hidden="true"><path class="testline" d="M0 5H44" stroke-dasharray={dashes[i % dashes.length]} /></svg>

function Bin({ test, done }: { test: Test; done: (t: Test) => void }) {
  const wrong = useSignal<Wrong | null>(null)
  return <><button type="button" class="quiet" onClick={() => call<{ test: Test }>('POST', `tests/${test.id}/bin`, { rev: test.rev, by: settings.value!.initials }).then(r => done(r.test), e => (wrong.value = e))}>To the bin</button><Trouble wrong={wrong.value} /></>
}

/** Photos as the phone makes them, and spoken notes. */
function Pictures({ id, port, all, done }: { id: string; port: string; all: Picture[]; done: () => void }) {
  const wrong = useSignal<Wrong | null>(null)
  const note = useSignal('')
  const [busy, setBusy] = useState(false)
  const rec = useRef<MediaRecorder | null>(null)
  const talking = useSignal(false)
  const canTalk = isSecureContext && !!navigator.mediaDevices && 'MediaRecorder' in window
  const put = (file: Blob, name: string) => {
    const f = new FormData()
    f.append('port', port)
    f.append('note', note.value)
    f.append('file', file, name)
    setBusy(true)
    call('POST', `heads/${id}/pictures`, f).then(() => ((note.value = ''), (wrong.value = null), done()), e => (wrong.value = e)).then(() => setBusy(false))
  }
  const talk = async () => {
    if (rec.current) return rec.current.stop()
    try {
      const s = await navigator.mediaDevices.getUserMedia({ audio: true })
      const r = (rec.current = new MediaRecorder(s))
      const parts: Blob[] = []
      r.ondataavailable = e => parts.push(e.data)
      r.onstop = () => {
        s.getTracks().forEach(t => t.stop())
        rec.current = null
        talking.value = false
        put(new Blob(parts, { type: r.mimeType }), 'spoken note.' + (r.mimeType.includes('ogg') ? 'ogg' : 'webm'))
      }
      r.start()
      talking.value = true
    } catch {
      wrong.value = new Wrong(0, 'The microphone was not given.', 'Allow it in the browser, or send a sound file.', [])
    }
  }
  return (
    <div class="block"><h3>Photos and spoken notes</h3>
      <ul class="pictures">{all.map(p => <li>{p.sound && p.shown ? <audio controls src={p.url} aria-label={p.note || p.name} /> : p.shown ? <a href={p.url}><img src={p.url} alt={p.note || p.name} loading="lazy" /></a> : <a class="button" href={p.url} download={p.name}>{p.name}</a>}<span class="cap">{p.when}{p.note && ', ' + p.note}{!p.shown && ', kept as it came; this browser can’t show it'}</span></li>)}</ul>
      <Field label="Note to it" value={note.value} onValue={v => (note.value = v)} guess="skip" />
      <div class="row">
        <label class={'button file' + (busy ? ' busy' : '')}>{busy ? 'Sending' : 'Add a photo or sound'}<input type="file" accept="image/jpeg,image/png,audio/*" onChange={e => {
          const f = (e.target as HTMLInputElement).files?.[0]
          if (f) put(f, f.name)
        }} /></label>
        {canTalk && <button type="button" class="button" onClick={talk}>{talking.value ? 'Stop and keep' : 'Speak a note'}</button>}
      </div>
      {!canTalk && <p class="cap">Speaking a note here needs a secure address (this computer itself, or HTTPS). A sound file can be sent.</p>}
      <Trouble wrong={wrong.value} />
    </div>
  )
}
