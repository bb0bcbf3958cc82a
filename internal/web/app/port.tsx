import { useSignal } from '@preact/signals'
import { call, settings, useGet, Wrong } from './api'
import { Plot } from './chart'
import { Apart, Grounds } from './apart'
import { BinnedTest, TestEdit } from './edit'
import { Move, Undo } from './move'
import { Pictures } from './photos'
import { Drawing, headNav, Say, Sheet, Show, StateWord, Swatch, TitleBlock, Trouble } from './kit'
import type { PortSheet as Data, Test } from './types'

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
          <Undo job={id} port={port} />
          {row.lapsed && <p class="pad"><b>Lapsed:</b> {row.lapsed}. The old figures are kept.</p>}
          {chart.traces.some(t => t.points.length > 1) ? <Plot chart={chart} name={name} /> : <div class="nothing"><Drawing cls={data.next ? 'big1' : ''} way={w => `/api/heads/${id}/plan?width=${Math.min(w, 520)}&words=none&here=${port}`} /><p>{tests.length ? <><b>No test counts as it is now.</b> The old ones stand below.</> : <><b>No test of this port yet.</b> Count it: about two minutes.</>}</p></div>}
          {tests.length + gone.value.length > 0 && <table class="tests">
            <thead><tr><th scope="col"><span class="vh">Line</span></th><th scope="col">how</th><th scope="col">hold</th><th scope="col" class="r"><Cube u={data.unit} /></th><th scope="col" class="r">this trace</th><th scope="col"><span class="vh">Move</span></th></tr></thead>
            <tbody>
              {gone.value.map(t => <tr class="sub"><td colSpan={6}><BinnedTest test={t} done={b => ((gone.value = gone.value.filter(x => x.id !== b.id)), again())} /></td></tr>)}
              {tests.map(t => (
                <>
                  <tr class={counted.has(t.id) ? '' : 'aside'}>
                    <th scope="row">{counted.has(t.id) ? <>{pic(counted.get(t.id)!)} {chart.traces[counted.get(t.id)!].name}</> : row.aside[t.id] || !data.apart ? 'aside' : 'which valve'}</th>
                    <td><b>{t.when}</b>{t.by && ' ' + t.by}, {t.source_word}, {t.how}{t.note && <>. {t.note}</>}{t.beside.map(x => <>. Recorded beside it: <a href={'/api/blobs/' + x.trace}>{x.gauge || 'another gauge'}</a></>)}{row.aside[t.id] && !t.reading.refusal && <span class="cap">. Stands aside: {row.aside[t.id]}</span>}</td>
                    <td class="lostcell">{t.reading.refusal ? 'refused' : <Say>{t.reading.lost}</Say>}</td>
                    <td class="r fig">{t.reading.leak}</td>
                    <td class="r nw">{t.reading.this}</td>
                    <td class="r movecell"><button type="button" class="quiet" data-key={t === tests[0] ? 'm' : undefined} aria-label={`Move${t === tests[0] ? ' M' : ''}: the test of ${t.when}`} onClick={() => (moving.value = moving.value === t.id ? '' : t.id)}>Move{t === tests[0] && <> <kbd>M</kbd></>}</button></td>
                  </tr>
                  {t.reading.refusal && <tr class="sub"><td colSpan={6}><b><Say>{t.reading.refusal.what}</Say></b> <Say>{t.reading.refusal.do}</Say></td></tr>}
                  {moving.value === t.id && <tr class="sub"><td colSpan={6}><Move test={t} done={to => ((moving.value = ''), (location.hash = to), again())} /><TestEdit test={t} done={again} /><Bin test={t} done={b => ((moving.value = ''), (gone.value = [b, ...gone.value]), again())} /></td></tr>}
                </>
              ))}
            </tbody>
          </table>}
          {tests.length > 0 && <p class="cap pad testsfoot">Free air at 50 kPa vacuum. Tests made otherwise than the newest, or before the last work, stand aside.{data.apart && tests.some(t => !counted.has(t.id) && !row.aside[t.id]) && ' Those with openings sealed off tell which valve.'}</p>}
          <Pictures id={id} port={port} all={data.pictures} done={again} />
        </section>
        <section class="figure-side">
          {row.leak && (
            <div class="block answerblock">
              <p class={'thefigure ' + (row.state === 'leaks' ? 'leaks' : '')}>{row.state === 'lapsed' ? <s>{row.leak}</s> : row.leak} <small><Cube u={data.unit} /></small></p>
              <ul class="ivs">{row.this && <li><svg width="26" height="12" aria-hidden="true"><rect class="bar" y="2" width="26" height="9" /></svg> {row.of} <b>{row.this}</b></li>}<li><svg width="26" height="12" aria-hidden="true"><path class="iv" d="M1 6H25M1 1V11M25 1V11" /></svg> tested again <b>{row.again}</b></li></ul>
              <div class="ivbox" dangerouslySetInnerHTML={{ __html: data.intervals }} />
              <Limits l={data.limits} id={id} unit={data.unit} lapsed={row.state === 'lapsed'} />
              {row.off.length > 0 && row.state === 'holds' && <p class="cap">Does not count for the sign-off: <Say>{row.off.join('; ')}</Say>.</p>}
              {row.odd && <p class="cap">It <Say>{row.odd}</Say>.</p>}
              {data.guessed.length > 0 && <p class="cap">Guessed: <Say>{data.guessed.join('; ')}</Say>.</p>}
              {data.narrow && <p class="narrowing"><span><Say>{data.narrow.words}</Say></span> <a href={`#/rigs/${data.narrow.rig}/check`}>Check the rig</a></p>}
              {data.sources.length > 0 && <Show label={'Where ' + row.leak + ' comes from'} name="detail">
                {data.sources.map(x => <dl class="source"><dt>{x.figure}</dt><dd><Say>{x.formula}</Say></dd>{x.inputs && <dd><Say>{x.inputs}</Say></dd>}{x.source && <dd class="cap">{x.source}</dd>}</dl>)}
                <table class="budget"><caption>Shares of the doubt of this trace</caption><tbody>{data.budget.filter(b => b.share >= 0.005).map(b => <tr><th scope="row">{b.input}</th><td class="share"><span><svg width={Math.max(1, Math.round(120 * b.share))} height="10" aria-hidden="true"><rect width="100%" height="10" /></svg></span></td><td class="r">{b.percent}</td></tr>)}</tbody></table>
                <dl class="detail">{data.detail.map(r => <><dt>{r.name}</dt><dd><Say>{r.words}</Say></dd></>)}</dl>
              </Show>}
            </div>
          )}
          {data.notes.map(n => <p class="block note noteblock"><b><Say>{n.what}</Say></b> <Say>{n.do}</Say></p>)}
          {data.next && (
            <div class="block onething"><Drawing cls="mini" way={w => `/api/heads/${id}/plan?width=${w}&words=none&here=${port}`} />
              <div><p class="red">{data.apart?.advice?.label ?? 'The one thing to do'}</p><h3><Say>{row.state === 'leaks' ? data.next.words : data.next.words[0].toUpperCase() + data.next.words.slice(1)}</Say></h3><p class="cap"><Say>{data.next.reason}</Say></p>{data.next.expect && <p class="cap"><Say>{data.next.expect}</Say></p>}{data.apart?.advice && <Grounds a={data.apart.advice} />}
                <a class="button red" href={`#/heads/${id}/count/${port}${data.next.valves.length ? '?mask=' + data.next.valves.join(',') : ''}`} data-enter>{data.next.valves.length ? data.next.do : tests.length ? 'Test again' : 'Test it'} <kbd>Enter</kbd></a></div></div>
          )}
          {data.apart && <Apart a={data.apart} unit={data.unit} count={`#/heads/${id}/count/${port}`} asked={data.next?.valves ?? []} />}
          <div class="block workblock"><div class="row between"><h3>Log of work</h3><a class="quiet" href={`#/heads/${id}/work/${port}`} data-key="w">Log work <kbd>W</kbd></a></div>
            {data.work.length ? <table class="log"><tbody>{data.work.map(x => <tr><td class="nw">{x.when}</td><td>{x.word[0].toUpperCase() + x.word.slice(1)}{x.on.length ? ': ' + x.on.join('; ') : ', the whole head'}{x.note && <>. {x.note}</>}</td><td>{x.by}</td></tr>)}</tbody></table> : <p class="cap">Nothing was done to its valves yet.</p>}
          </div>
          <div class="block row waysblock"><a class="button" href={`#/heads/${id}/upload/${port}`}>Send a recording</a><a class="button" href={`#/heads/${id}/readings/${port}`}>Type readings</a><a class="button" href={`#/heads/${id}/crosscheck/${port}`}>Other tests</a></div>
          <TitleBlock rows={data.title_block} />
        </section>
      </div>
    </Sheet>
  )
}

/** What the port is judged by, and the chances of being over it. */
function Limits({ l, unit, lapsed, id }: { l: Data['limits']; unit: string; lapsed: boolean; id: string }) {
  if (!l.one) return null
  return (
    <>
      <table class="limits"><thead><tr><th scope="col">Limit, <Say>{unit}</Say></th><th scope="col" class="r">one valve</th>{l.all && <th scope="col" class="r">{l.both}</th>}</tr></thead>
        <tbody>{l.rows.map(r => <tr class={r.decides ? 'decides' : r.counts ? '' : 'beside'}><th scope="row"><Say>{r.words}</Say></th><td class="r">{r.decides ? <b>{r.one}</b> : r.one || '–'}</td>{l.all && <td class="r">{r.decides ? <b>{r.all}</b> : r.all}</td>}</tr>)}</tbody></table>
      {!lapsed && l.over_one && <p>Chance of being over one valve’s limit <b>{l.over_one}</b>{l.over_all && <>, over {l.both === 'both valves' ? 'both' : 'all'} <b>{l.over_all}</b></>}.</p>}
      <Show label="What the limits mean" name="limits">
        {l.rows.map(r => <dl class="source"><dt><Say>{r.words}</Say></dt><dd><Say>{r.reason}</Say></dd>{r.one && r.means.length > 0 && <dd><Say>{`${r.one} ${unit} is: ${r.means.join('; ')}.`}</Say></dd>}</dl>)}
        <p class="cap"><Say>{l.taken}</Say> <a href={`#/heads/${id}/sizes`}>Change the limits</a></p>
      </Show>
    </>
  )
}

const dashes = ['', '8 4', '2 4', '12 4 2 4', '1 3']
const lineOf = (i: number) => <svg width="44" height="10" aria-hidden="true"><path class="testline" d="M0 5H44" stroke-dasharray={dashes[i % dashes.length]} /></svg>

function Bin({ test, done }: { test: Test; done: (t: Test) => void }) {
  const wrong = useSignal<Wrong | null>(null)
  return <><button type="button" class="quiet" onClick={() => call<{ test: Test }>('POST', `tests/${test.id}/bin`, { rev: test.rev, by: settings.value!.initials }).then(r => done(r.test), e => (wrong.value = e))}>To the bin</button><Trouble wrong={wrong.value} /></>
}
