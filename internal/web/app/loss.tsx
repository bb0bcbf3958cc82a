// What the leaks of a head cost its engine: reckoned once its place on the card is
// near the window; in a line there, the rest hidden until asked for.
import { useRef } from 'preact/hooks'
import { useGet, Wrong } from './api'
import { Say, Show, Trouble, useInView } from './kit'
import type { Loss, LossCylinder, LossTable } from './types'

export function LossShow({ id }: { id: string }) {
  const at = useRef<HTMLDivElement>(null)
  const seen = useInView(at)
  const { data, wrong } = useGet<Loss>(seen ? `heads/${id}/loss` : null, c => c.job === id || c.id === id || ['rig', 'check', 'settings'].includes(c.kind))
  return <div class="losses" ref={at}><Show label="What the leaks cost this engine" name="loss" says={data?.line}><Losses id={id} data={data} wrong={wrong} /></Show></div>
}

function Losses({ id, data, wrong }: { id: string; data: Loss | null | undefined; wrong: Wrong | null | undefined }) {
  if (wrong) return <Trouble wrong={wrong} />
  if (!data) return <p class="cap" role="status">Reckoning…</p>
  return (
    <>
      <p class="cap"><Say>{data.says[0]}</Say></p>
      <div class="losscyls">{data.cylinders.map(c => <Cylinder c={c} />)}</div>
      <div class="lossrest">
      <figure class="chart"><figcaption><b>Lost of the cranking peak against the leak.</b> Wide lines: through an opening and as a seep, with what is not known of the engine; a circle: a cylinder’s leaks together.</figcaption>
        <div dangerouslySetInnerHTML={{ __html: data.chart }} /></figure>
      <div>
      <h3><Say>{'The limit: ' + data.limit}</Say></h3>
      <dl class="facts">{data.limits.map(l => <div><dt>{l.name}</dt><dd><b><Say>{l.value}</Say></b> <span class="cap"><Say>{'(' + l.from + ')'}</Say></span></dd></div>)}</dl>
      <h3><Say>{data.other_title}</Say></h3>
      <Table t={data.others} name={data.other_title} />
      {data.guessed.length > 0 && <><h3>Guessed</h3><ul class="dots">{data.guessed.map(g => <li><Say>{g}</Say></li>)}</ul><p class="cap">Put right on the sheet <a href={`#/heads/${id}/sizes`}>Sizes</a>.</p></>}
      </div>
      </div>
      <p class="cap"><Say>{'Reckoned with ' + data.engine + '. ' + data.says.slice(1).join(' ')}</Say></p>
    </>
  )
}

function Cylinder({ c }: { c: LossCylinder }) {
  return (
    <section class="losscyl" tabIndex={0} aria-label={c.name}>
      <h3>{c.name[0].toUpperCase() + c.name.slice(1)} {c.over && <span class="word leaks">over the limit</span>}</h3>
      <p><b><Say>{c.line}</Say></b>{c.chance && <span class="cap"><Say>{'; chance of more than the limit ' + c.chance}</Say></span>}</p>
      <p class="cap"><Say>{[...c.leaks, ...c.untold].join('; ')}</Say></p>
      {c.runs.length > 0 && (
        <table>
          <thead><tr><th scope="col"><span class="vh">What</span></th><th scope="col" class="r">without</th><th scope="col" class="r">with the leaks</th><th scope="col" class="r">lost</th></tr></thead>
          <tbody>{c.runs.map(r => r.rows.map((x, i) => (
            <tr>
              <th scope="row">{i ? <span class="vh">{r.name}</span> : r.name}<small>{x.name}</small></th>
              <td class="r">{x.without}<small>{x.around}</small></td>
              <td class="r">{x.with}<small>{x.between}</small></td>
              <td class="r"><b>{x.lost}</b><small>{x.from}</small></td>
            </tr>
          )))}</tbody>
        </table>
      )}
    </section>
  )
}

function Table({ t, name }: { t: LossTable; name: string }) {
  return (
    <div class="columns" tabIndex={0} role="region" aria-label={name}>
      <table class="log"><thead><tr>{t.head.map(h => <th scope="col">{h ? <Say>{h}</Say> : <span class="vh">interval</span>}</th>)}</tr></thead>
        <tbody>{t.rows.map(r => <tr>{r.map(x => <td class="nw"><Say>{x}</Say></td>)}</tr>)}</tbody></table>
    </div>
  )
}
