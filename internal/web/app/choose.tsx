// Choosing a rig: a form of candidate parts, and what comes of weighing them.
import { useSignal } from '@preact/signals'
import { useRef } from 'preact/hooks'
import { call, settings, useGet, Wrong } from './api'
import { Field, go, home, Say, Sheet, Show, Tick, Trouble, useDraft } from './kit'

interface PartField { key: string; name: string; unit: string; hint: string; more: boolean }
interface PartKind { key: string; name: string; one: string; single: boolean; says: string; fields: PartField[] }
type Item = Record<string, string>
type Parts = Record<string, Item[]>
interface Line { rank: number; pump: string; gauge: string; hose: string; word: string; least: string; minute: string; steady: string; needle: string; pull_down: string; price?: string; altitude?: { words: string } }
interface Sight { name: string; facts: [string, string][]; head: string[]; rows: string[][] }
interface RigShown extends Line { name: string; reasons: string[]; swap?: string; ports: Sight[] }
interface Chosen {
  title: string; line: string; guessed: string[]; rigs: Line[]; pick: RigShown | null; yours?: RigShown; cheapest?: RigShown
  questions: { part: string; index: number; name: string; what: string; maybe?: string; out: boolean }[]
  list: { what: string; words: string; price?: string }[]; plumbing: string[]; altitude: string[]; checks: string[]; cautions: string[]
  chart: string; sketch: string; legend: { mark: string; name: string; best: boolean }[]
}

const empty: Parts = { port: [{}], pump: [{}], gauge: [{}], hose: [{}], air: [{}], engine: [{}], '': [{}] }

export function ChooseRig() {
  const { data, wrong: gone } = useGet<{ kinds: PartKind[]; invented: Parts; heads: { code: string; word: string }[] }>('choose', () => false)
  const [d, change] = useDraft<{ parts: Parts }>('choose', { parts: empty })
  const wrong = useSignal<Wrong | null>(null)
  const out = useSignal<Chosen | null>(null)
  const result = useRef<HTMLHeadingElement>(null)
  if (!data) return <Sheet number="Choose a rig" title="" nav={home('rigs')}><Trouble wrong={gone} /></Sheet>
  const items = (kind: string) => d.parts[kind] ?? [{}]
  const put = (kind: string, list: Item[]) => change({ parts: { ...d.parts, [kind]: list } })
  const none = JSON.stringify(d.parts) === JSON.stringify(empty)
  const weigh = (parts: Parts) =>
    call<Chosen>('POST', 'choose', { parts }).then(c => {
      wrong.value = null
      out.value = c
      requestAnimationFrame(() => result.current?.focus())
    }, e => (wrong.value = e))
  return (
    <Sheet number="Choose a rig" title="pump, gauge, hose for these ports" line="from the parts that can be had" nav={home('rigs')}>
      <div class="split choose">
        <form class="left" noValidate onSubmit={e => {
          e.preventDefault()
          weigh(d.parts)
        }}>
          <p class="cap">Write down what could be had, each with what its sheet says. Every rig that can be made of it is weighed: what leaks it tells apart, how long it pulls, and which part to change first.</p>
          {none && <p class="row"><button type="button" class="button" onClick={() => (change({ parts: { ...empty, ...data.invented } }), weigh({ ...empty, ...data.invented }))}>Try it with an invented list</button></p>}
          {data.kinds.map(k => (
            <section class="parts">
              <h2>{k.name}</h2>
              {k.says && <p class="cap">{k.says}</p>}
              {k.key === 'port' && data.heads.length > 0 && (
                <p class="row"><label for="from-head">Take them from a head</label>
                  <select id="from-head" value="" onChange={e => {
                    const id = (e.target as HTMLSelectElement).value
                    if (id) call<{ ports: Item[]; engine: Item }>('GET', 'choose?head=' + encodeURIComponent(id)).then(a => change({ parts: { ...d.parts, port: a.ports.length ? a.ports : [{}], engine: [a.engine] } }), e => (wrong.value = e))
                  }}><option value="">choose</option>{data.heads.map(h => <option value={h.code}>{h.word}</option>)}</select></p>
              )}
              {items(k.key).map((item, i) => <One kind={k} item={item} i={i} wrong={wrong.value} set={part => put(k.key, items(k.key).map((x, n) => (n === i ? { ...x, ...part } : x)))}
                out={!k.single && items(k.key).length > 1 ? () => put(k.key, items(k.key).filter((_, n) => n !== i)) : undefined} />)}
              {!k.single && <button type="button" class="button" onClick={() => put(k.key, [...items(k.key), {}])}>One more {k.one}</button>}
              {wrong.value?.fields.filter(f => f.field === k.key && k.key).map(f => <p class="fault"><b><Say>{f.what}</Say></b></p>)}
            </section>
          ))}
          <Trouble wrong={wrong.value} />
          <p class="row"><button class="button red" data-enter>Weigh them</button>
            {!none && <button type="button" class="quiet" onClick={() => (change({ parts: empty }), (out.value = null), (wrong.value = null))}>Begin again</button>}</p>
        </form>
        <div class="right">
          {out.value ? <Result c={out.value} at={result} keep={() => call<{ rig: { id: string } }>('POST', 'choose', { parts: d.parts, keep: true, by: settings.value!.initials }).then(a => go('#/rigs/' + a.rig.id), e => (wrong.value = e))} /> : <section class="empty"><h2>Nothing weighed yet.</h2><p>Ports, a pump, a gauge and a hose are enough. The rest is guessed and said so.</p></section>}
        </div>
      </div>
    </Sheet>
  )
}

function One({ kind, item, i, wrong, set, out }: { kind: PartKind; item: Item; i: number; wrong: Wrong | null; set: (part: Item) => void; out?: () => void }) {
  const at = (f: PartField) => (kind.key ? `${kind.key}.${i}.${f.key}` : f.key)
  const field = (f: PartField) => f.key === 'have'
    ? <div class="field"><Tick label={f.name} value={item[f.key] === 'yes'} onValue={v => set({ [f.key]: v ? 'yes' : '' })} /></div>
    : <Field label={f.name} field={at(f)} unit={f.unit} hint={f.hint} value={item[f.key] ?? ''} onValue={v => set({ [f.key]: v })} wrong={wrong} />
  const more = kind.fields.filter(f => f.more)
  const bad = !!wrong?.fields.some(x => more.some(f => at(f) === x.field))
  const body = <>
    <div class="pair">{kind.fields.filter(f => !f.more).map(field)}</div>
    {more.length > 0 && <Show key={String(bad)} label="More of it" name={`choose ${kind.key} ${i}`} open={bad}><div class="pair">{more.map(field)}</div></Show>}
    {out && <button type="button" class="quiet" onClick={out}>Take {item.name || `this ${kind.one}`} out</button>}
  </>
  if (kind.single) return <div class="part">{body}</div>
  const name = item.name || `${kind.one} ${i + 1}`
  const says = kind.fields.filter(f => !f.more && f.key !== 'name' && item[f.key]).map(f => item[f.key] + (/[a-z%°³]/i.test(item[f.key]) || !f.unit ? '' : ' ' + f.unit)).join(', ')
  const any = wrong?.fields.some(x => x.field.startsWith(`${kind.key}.${i}.`))
  return <div class="part"><Show key={String(!!any)} label={says ? `${name}: ${says}` : name} name={`choose part ${kind.key} ${i}`} open={!says || any}>{body}</Show></div>
}

const List = ({ all }: { all: string[] }) => <ul class="dots">{all.map(x => <li><Say>{x}</Say></li>)}</ul>

function Rig({ r, title, h }: { r: RigShown; title: string; h?: any }) {
  return (
    <section class="block0">
      <h2 ref={h} tabIndex={h ? -1 : undefined}><Say>{`${title}: ${r.name}`}</Say></h2>
      <p><b>{r.word}</b>{r.price && <span class="cap">, {r.price}</span>}</p>
      <List all={r.reasons} />
      {r.swap && <p class="swap"><b>Change one part.</b> <Say>{r.swap}</Say></p>}
    </section>
  )
}

function Result({ c, at, keep }: { c: Chosen; at: any; keep: () => void }) {
  return (
    <>
      {c.questions.length > 0 && (
        <section class="block0"><h2>Asked about</h2>
          {c.questions.map(q => <div class="fieldask"><span class="ask" aria-hidden="true">?</span><p><b><Say>{q.name}</Say>.</b> <Say>{q.what}</Say> <Say>{q.maybe}</Say>{q.out && ' It is left out until that is mended.'}</p></div>)}
        </section>
      )}
      {!c.pick && <section class="block0"><h2 ref={at} tabIndex={-1}>There is no rig to weigh.</h2><p>Mend what is asked about, then weigh them again.</p></section>}
      {c.pick && (
        <>
          <Rig r={c.pick} title="Take" h={at} />
          <p class="row"><button type="button" class="button" onClick={keep}>Keep it as a rig</button><span class="cap">Its checks begin from these figures.</span></p>
          <p class="cap"><Say>{c.line}</Say></p>
          <figure class="chart"><figcaption><b>What the gauge reads against the leak, pump on.</b> Wide line: there the steady reading tells a leak.</figcaption>
            <div dangerouslySetInnerHTML={{ __html: c.chart }} />
            <ol class="marks">{c.legend.map(l => <li class={l.best ? 'on' : ''}><b>{l.mark}</b> {l.name}</li>)}</ol></figure>
          {c.yours && <Rig r={c.yours} title="Of parts that are there" />}
          {c.cheapest && <Rig r={c.cheapest} title="Least money for the same" />}
          {c.pick.ports.map(p => (
            <Show label={'What it sees of the ' + p.name} name={'choose sees'} open>
              <dl class="facts">{p.facts.map(([k, v]) => <div><dt>{k}</dt><dd><Say>{v}</Say></dd></div>)}</dl>
              <div class="columns" tabIndex={0} role="region" aria-label={'Needle drops, ' + p.name}><table class="log"><thead><tr>{p.head.map(h => <th scope="col">{h}</th>)}</tr></thead><tbody>{p.rows.map(r => <tr>{r.map(x => <td class="nw"><Say>{x}</Say></td>)}</tr>)}</tbody></table></div>
            </Show>
          ))}
          <section class="block0"><h2>Best first</h2>
            <ol class="ranked">{c.rigs.slice(0, 12).map(r => <li><p><b>{r.rank}. {r.pump}, {r.gauge}, {r.hose}</b></p><p class="cap"><Say>{`${r.word}; least in 15 s ${r.least}; needle drops ${r.needle} at the limit; down in ${r.pull_down}${r.price ? '; ' + r.price : ''}`}</Say></p>{r.altitude && <p class="cap"><Say>{r.altitude.words}</Say></p>}</li>)}</ol>
            {c.rigs.length > 12 && <p class="cap">{c.rigs.length - 12} more are not shown.</p>}
          </section>
          <div class="two">
            <figure class="sketch"><figcaption><b>Plumbing</b></figcaption><div dangerouslySetInnerHTML={{ __html: c.sketch }} /></figure>
            <section class="block0"><h2>Parts</h2><dl class="facts">{c.list.map(p => <div><dt>{p.what}</dt><dd><Say>{p.words}</Say>{p.price && <b>, {p.price}</b>}</dd></div>)}</dl></section>
          </div>
          <section class="block0"><h2>In this order</h2><List all={c.plumbing} /></section>
          <section class="block0"><h2>Altitude</h2><List all={c.altitude} /></section>
          <section class="block0"><h2>Before the first port</h2><List all={c.checks} /></section>
          <section class="block0"><h2>Cautions</h2><List all={c.cautions} /></section>
          {c.guessed.length > 0 && <section class="block0"><h2>Guessed</h2><List all={c.guessed} /></section>}
        </>
      )}
    </>
  )
}
