import { Say, Show, StateWord, Swatch } from './kit'
import type { Apart as Data, Opening } from './types'

/** Which valve of a port leaks, by tests with masks; what tells the rest; what its guides may pass. */
export function Apart({ a, unit, count, asked }: { a: Data; unit: string; count: string; asked: string[] }) {
  const plan = a.plan
  if (!a.openings.length && !plan && !a.guide) return null
  const same = !!plan && plan.mask.join() === asked.join() && asked.length > 0 // the one thing to do has the button
  return (
    <div class="block apartblock">
      {a.title && <h3><Say>{a.title}</Say></h3>}
      {a.clash && <p class="note"><b><Say>{a.clash}</Say></b></p>}
      {a.openings.length > 0 && (
        <table class="apart">
          <caption><Say>{a.tests}</Say></caption>
          <thead><tr><th scope="col">Opening</th><th scope="col">Verdict</th><th scope="col" class="r"><Say>{unit}</Say></th></tr></thead>
          <tbody>{a.openings.map(o => <Row o={o} />)}</tbody>
        </table>
      )}
      {a.openings.length > 0 && <p class="cap apartscale" aria-hidden="true"><span>0</span><span>{a.scale} <Say>{unit}</Say></span></p>}
      {plan && <div class="maskplan">
        <p>{plan.first ? <><b>If it stays so after that:</b> <Say>{plan.words[0].toLowerCase() + plan.words.slice(1)}</Say></> : <b><Say>{plan.words}</Say></b>}</p>
        {!same && <a class="button" href={count + (plan.mask.length ? '?mask=' + plan.mask.join(',') : '')}><Say>{plan.do}</Say></a>}
      </div>}
      {a.guide && <Show label="What the guides may pass" name="guide"><p><Say>{a.guide.words}</Say></p><p class="cap"><Say>{a.guide.basis}</Say></p></Show>}
    </div>
  )
}

/** One opening: in words and figures, and a bar with the limit across it. */
function Row({ o }: { o: Opening }) {
  const w = 300
  const b = o.bar
  return (
    <>
      <tr class="says"><th scope="row">{o.name}</th><td>{o.state ? <><Swatch state={o.state} /> <StateWord state={o.state} word={o.word} /></> : ''}</td><td class="r"><b>{o.leak}</b>{o.interval && <> <span class="nw">{o.interval}</span></>}</td></tr>
      <tr class="bars"><td colSpan={3}>
        {b && <svg class="openbar" viewBox={`0 0 ${w} 18`} width="100%" height="18" preserveAspectRatio="none" aria-hidden="true">
          <path class="axis" d={`M0 17.5H${w}`} />
          <rect class="bar" x={b.low * w} y="5" width={Math.max(1.5, (b.high - b.low) * w)} height="8" />
          {b.median > 0 && <path class="mid" d={`M${b.median * w} 2V16`} />}
          {b.limit > 0 && <path class="lim" d={`M${b.limit * w} 0V18`} />}
        </svg>}
        <p class="cap"><Say>{o.says}</Say></p>
      </td></tr>
    </>
  )
}

/** What a step about a leaking port stands on: which tests say so, and what was not tried. */
export function Grounds({ a }: { a: NonNullable<Data['advice']> }) {
  return (
    <Show label={a.head} name="grounds">
      <p class="cap"><Say>{a.words}</Say></p>
      <table class="grounds"><tbody>{a.grounds.map(g => <tr><th scope="row"><Say>{g.words}</Say></th><td class={g.tests.length ? '' : 'no'}>{g.said}</td></tr>)}</tbody></table>
    </Show>
  )
}
